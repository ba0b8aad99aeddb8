// The form of what is set today: its fields are read into Today, and follow it. Nothing is worked out here.

const OWN_CHOICES = [["own-to", "setting_to", ["hold", "tip"]], ["own-kind", "kind", ["fixed", "sliding", "pole"]]];

class TodayForm {
  // changed is told what was set: "level", "float", "rig", "tackle" or "units".
  constructor(today, changed) {
    this.today = today;
    this.changed = changed;
    this.level = byId("level");
    this.tackle = new TackleForm(today, () => {
      this.showRig();
      changed("tackle");
    });
    this.listen();
    this.fillChoices();
    this.showLevelField();
    this.show();
  }

  listen() {
    byId("today").addEventListener("submit", (event) => event.preventDefault());
    if (this.level) this.level.addEventListener("input", () => this.readLevel());
    for (const id of ["own-length", "own-tip"]) byId(id).addEventListener("input", () => this.readOwn());
    byId("float").addEventListener("change", (event) => {
      this.today.floatIndex = Number(event.target.value);
      this.showFloat();
      this.changed("float");
    });
  }

  fillChoices() {
    const { today } = this;
    for (const [id, key, values] of OWN_CHOICES) {
      byId(id).append(...values.map((value) => el("option", { value, selected: value === today.own[key] }, WORDS[`own_${key}_${value}`])));
      byId(id).addEventListener("change", () => {
        today.own[key] = byId(id).value;
        this.changed("float");
      });
    }
    const rigs = DATA.rules.rigs.map((rig) => ["rig", rig.name, WORDS[`rig_${rig.name}`], rig.name === today.rig]);
    byId("rigs").append(...rigs.map((choice) => this.choice(...choice, (name) => { today.rig = name; this.showRig(); })));
    const units = ["feet", "metres"].map((unit) => ["unit", unit, WORDS[unit], unit === view.units]);
    byId("units").append(...units.map((choice) => this.choice(...choice, (unit) => { view.units = unit; this.show(); }, "units")));
  }

  choice(name, value, words, checked, take, what = name) {
    const input = el("input", { type: "radio", name, value });
    input.checked = checked;
    input.addEventListener("change", () => {
      take(value);
      this.changed(what);
    });
    return el("label", {}, input, el("span", {}, words));
  }

  readLevel() {
    const typed = this.level.value.trim();
    this.today.setLevel(typed === "" ? DATA.mark.datum_m : readLength(typed, DATA.mark.unit));
    this.showLevel();
    this.changed("level");
  }

  readOwn() {
    const [length_m, tip_m] = ["own-length", "own-tip"].map((id) => readLength(byId(id).value, small()) ?? NaN);
    this.today.setOwn({ length_m, tip_m });
    setText(byId("own-note"), this.today.ownGood ? "" : WORDS.own_bad);
    this.changed("float");
  }

  // All fields as what is set has them, in the unit shown.
  show() {
    const { today } = this;
    byId("float").replaceChildren(...today.floats.map((held, k) => el("option", { value: k }, floatTold(held))));
    for (const input of byId("rigs").querySelectorAll("input")) input.checked = input.value === today.rig;
    this.showLevel();
    this.showFloat();
    this.showRig();
  }

  showFloat() {
    const { today } = this;
    byId("float").value = String(today.floatIndex);
    byId("own").hidden = today.chosenFloat !== today.own;
    this.showOwn();
    this.tackle.showFloat();
  }

  showOwn() {
    const inches = view.units === "feet";
    byId("own").querySelector("[for=own-length]").textContent = WORDS[inches ? "own_length_in" : "own_length_cm"];
    byId("own").querySelector("[for=own-tip]").textContent = WORDS[inches ? "own_tip_in" : "own_tip_cm"];
    if (!this.today.ownGood || byId("own").contains(document.activeElement)) return;
    const { length_m, tip_m } = this.today.own;
    byId("own-length").value = +(length_m / TYPED.units_m[small()]).toFixed(2);
    byId("own-tip").value = +(tip_m / TYPED.units_m[small()]).toFixed(2);
  }

  showRig() {
    const rig = DATA.rules.rigs.find((r) => r.name === this.today.rig);
    const { over_depth_m } = this.today.now.end;
    const clearance_m = rig.clearance_m < 0 && over_depth_m !== null ? over_depth_m : Math.abs(rig.clearance_m);
    setText(byId("rig-note"), say(`rig_does_${rig.name}`, { clearance: length(clearance_m) }));
  }

  // The level was found by plumbing, or is again what it was before.
  takePlumbed() {
    this.showLevelField();
    this.showLevel();
    this.changed("level");
  }

  // What was not typed into the field: found by plumbing, remembered, or set by a script.
  showLevelField(words = levelFigure(this.today.shown_m)) {
    if (this.level) this.level.value = words;
  }

  showLevel() {
    const { today } = this;
    const note = byId("level-note");
    if (!this.level) {
      setText(note, today.levelBy ? levelTold(today) : WORDS.level_none);
      return;
    }
    const rise = riseOf(today.shown_m);
    const bad = !today.levelGood || Boolean(levelFault(rise, today.deepest_m));
    const by = today.levelBy ? `, ${WORDS.level_by_plumb}` : "";
    setText(note, today.levelGood ? `= ${say(levelKey(rise), { rise: riseShown(rise) })}${by}` : levelBad());
    note.classList.toggle("bad", bad);
    setAttribute(this.level, "aria-invalid", String(bad));
  }
}
