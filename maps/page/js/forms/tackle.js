// The rig in detail and today's wind: what is typed becomes numbers, or a fault that withdraws the answer.

class TackleForm {
  constructor(changed, kept) {
    this.changed = changed;
    this.typed = { ...kept.tackle, takes: { ...(kept.tackle || {}).takes } };
    this.faults = {};
    this.fill();
    for (const id of TACKLE_FIELDS) {
      const field = byId(id);
      field.addEventListener(field.tagName === "SELECT" ? "change" : "input", () => {
        this.read();
        this.changed();
      });
    }
    for (const [id, unit] of Object.entries(BARE_UNITS)) byId(id).addEventListener("change", () => withUnit(byId(id), unit()));
  }

  fill() {
    byId("fish").append(el("option", { value: "" }, WORDS.fish_any), ...Object.keys(DATA.rules.next.fish).map((name) => el("option", { value: name }, WORDS[`fish_${name}`])));
    byId("wind-unit").append(...Object.keys(DATA.rules.wind.speeds_ms).map((unit) => el("option", { value: unit }, unit)));
    byId("wind-from").append(el("option", { value: "" }, WORDS.wind_none), ...WORDS.compass.map((point, k) => el("option", { value: (k * 360) / WORDS.compass.length }, point)));
    byId("at-hand").value = DATA.rules.shot.usual;
    for (const id of TACKLE_FIELDS) if (typeof this.typed[id] === "string") byId(id).value = this.typed[id];
    this.numbers = this.readAll();
  }

  // A float's own mark stands in its field until another is typed; what is typed is kept by float.
  showFloat(held) {
    this.float = held.name === null ? "" : held.name;
    const typed = this.typed.takes[this.float];
    const own = held.mark ? `${held.mark.load_g ? `${WORDS.load} ${held.mark.load_g} g, ${WORDS.balance} ` : ""}${held.mark.balance_g} g` : "";
    if (document.activeElement !== byId("takes")) byId("takes").value = typed === undefined ? own : typed;
    this.readMark();
  }

  readMark() {
    const text = byId("takes").value.trim();
    this.mark = text ? readMark(text) : null;
    this.fault("takes", text && !this.mark ? WORDS.takes_bad : "");
  }

  read() {
    for (const id of TACKLE_FIELDS) if (id !== "takes") this.typed[id] = byId(id).value;
    if (document.activeElement === byId("takes")) this.typed.takes[this.float] = byId("takes").value;
    this.readMark();
    this.numbers = this.readAll();
  }

  readAll() {
    return { atHand: this.readShotField("at-hand"), locking: this.readLocking(), ...this.readLengths(), sought: this.sought, wind: this.readWind() };
  }

  get sought() {
    const fish = byId("fish").value;
    return fish ? DATA.rules.next.fish[fish] : null;
  }

  readShotField(id) {
    const shot = readShot(byId(id).value.trim() || DATA.rules.shot.usual);
    this.fault(id, shot ? "" : WORDS.shot_bad);
    return shot || readShot(DATA.rules.shot.usual);
  }

  readLocking() {
    const text = byId("locking").value.trim();
    const shot = text ? readShot(text) : {};
    this.fault("locking", shot ? "" : WORDS.shot_bad);
    return Object.fromEntries(Object.entries(shot || {}).map(([size, n]) => [size, n === Infinity ? 1 : n]));
  }

  readLengths() {
    return {
      rod_length_m: this.readLengthField("rod-length", 0.5, 30),
      hook_length_m: this.readLengthField("hook-length", 0, 3) || 0,
      bait_m: this.readLengthField("bait", 0, TYPED.most_bait_m) || 0,
    };
  }

  readLengthField(id, least, most) {
    const text = byId(id).value.trim();
    if (!text) {
      this.fault(id, "");
      return null;
    }
    const found = readLength(text, BARE_UNITS[id]());
    const good = found !== null && found >= least && found <= most;
    this.fault(id, good ? "" : WORDS.length_bad);
    return good ? found : null;
  }

  // Half said is not wrong yet: without its speed or its direction there is no wind.
  readWind() {
    const [from, text] = [byId("wind-from").value, byId("wind-speed").value.trim()];
    const speed = readNumber(text);
    const speed_ms = speed === null ? NaN : speed * DATA.rules.wind.speeds_ms[byId("wind-unit").value];
    const good = speed_ms >= 0 && speed_ms <= DATA.rules.wind.most_ms;
    this.fault("wind-speed", text && !good ? WORDS.wind_bad : "");
    return good && from !== "" ? { speed_ms, from_deg: Number(from) } : null;
  }

  fault(id, words) {
    if (words) this.faults[id] = words;
    else delete this.faults[id];
    byId(id).setAttribute("aria-invalid", String(Boolean(words)));
    const home = id === "wind-speed" ? "wind-note" : "tackle-note";
    const own = Object.entries(this.faults).filter(([key]) => (key === "wind-speed") === (home === "wind-note"));
    byId(home).textContent = own.map(([, said]) => said)[0] || "";
    if (words) byId(home).closest("details").open = true;
  }

  get firstFault() {
    return Object.values(this.faults)[0] || "";
  }

  get kept() {
    const today = ["wind-speed", "wind-from"];
    return Object.fromEntries(Object.entries(this.typed).filter(([id]) => !today.includes(id)));
  }

  // From a script: numbers straight, past the fields.
  take({ wind, tackle, mark }) {
    if (wind !== undefined) this.numbers.wind = wind;
    if (mark !== undefined) this.mark = mark === null ? null : readMark(mark);
    if (tackle !== undefined) Object.assign(this.numbers, tackle, tackle.shot ? { atHand: readShot(tackle.shot) } : {});
  }
}

const TACKLE_FIELDS = ["takes", "fish", "at-hand", "locking", "rod-length", "hook-length", "bait", "wind-speed", "wind-unit", "wind-from"];

function openField(id) {
  const fold = byId(id).closest("details");
  if (fold) fold.open = true;
  byId(id).focus();
}

const small = () => (view.units === "feet" ? "in" : "cm");
const large = () => (view.units === "feet" ? "ft" : "m");
const BARE_UNITS = { "rod-length": large, "hook-length": small, bait: small };

// A bare number gets its unit once it has been typed, so that it means the same in the other units.
function withUnit(field, unit) {
  const text = field.value.trim();
  if (text && readLength(text) === null && readLength(text, unit) !== null) field.value = `${text} ${unit}`;
}
