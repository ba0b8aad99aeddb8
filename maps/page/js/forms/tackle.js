// The rig in detail and today's wind: what is typed becomes numbers, or a fault that withdraws the answer.

class TackleForm {
  constructor(today, changed) {
    this.today = today;
    this.fill();
    for (const id of TACKLE_FIELDS) {
      const field = byId(id);
      field.addEventListener(field.tagName === "SELECT" ? "change" : "input", () => {
        this.read();
        changed();
      });
    }
    for (const [id, unit] of Object.entries(BARE_UNITS)) byId(id).addEventListener("change", () => withUnit(byId(id), unit()));
  }

  fill() {
    byId("fish").append(el("option", { value: "" }, WORDS.fish_any), ...Object.keys(DATA.rules.next.fish).map((name) => el("option", { value: name }, WORDS[`fish_${name}`])));
    byId("wind-unit").append(...Object.keys(DATA.rules.wind.speeds_ms).map((unit) => el("option", { value: unit }, unit)));
    byId("wind-from").append(el("option", { value: "" }, WORDS.wind_none), ...WORDS.compass.map((point, k) => el("option", { value: (k * 360) / WORDS.compass.length }, point)));
    byId("at-hand").value = DATA.rules.shot.usual;
    const { typed } = this.today;
    for (const id of TACKLE_FIELDS) if (typeof typed[id] === "string") byId(id).value = typed[id];
    this.readAll();
  }

  // A float's own mark stands in its field until another is typed; what is typed is kept by float.
  showFloat() {
    const held = this.today.chosenFloat;
    const typed = this.today.typed.takes[held.name || ""];
    const own = held.mark ? `${held.mark.load_g ? `${WORDS.load} ${held.mark.load_g} g, ${WORDS.balance} ` : ""}${held.mark.balance_g} g` : "";
    if (document.activeElement !== byId("takes")) byId("takes").value = typed === undefined ? own : typed;
    this.readMark();
  }

  readMark() {
    const text = byId("takes").value.trim();
    this.today.mark = text ? readMark(text) : null;
    this.fault("takes", text && !this.today.mark ? WORDS.takes_bad : "");
  }

  read() {
    const { typed, chosenFloat } = this.today;
    for (const id of TACKLE_FIELDS) if (id !== "takes") typed[id] = byId(id).value;
    if (document.activeElement === byId("takes")) typed.takes[chosenFloat.name || ""] = byId("takes").value;
    this.readMark();
    this.readAll();
  }

  readAll() {
    this.today.tackle = { atHand: this.readShotField("at-hand"), locking: this.readLocking(), ...this.readLengths(), sought: this.sought };
    this.today.wind = this.readWind();
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
    const { faults } = this.today;
    if (words) faults[id] = words;
    else delete faults[id];
    setAttribute(byId(id), "aria-invalid", String(Boolean(words)));
    const home = id === "wind-speed" ? "wind-note" : "tackle-note";
    const own = Object.entries(faults).filter(([key]) => (key === "wind-speed") === (home === "wind-note"));
    setText(byId(home), own.map(([, said]) => said)[0] || "");
    if (words) unfold(byId(home));
  }
}

const TACKLE_FIELDS = ["takes", "fish", "at-hand", "locking", "rod-length", "hook-length", "bait", "wind-speed", "wind-unit", "wind-from"];

function openField(id) {
  unfold(byId(id));
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
