// The form that sets the level by plumbing, and the list of what was plumbed.

class PlumbForm {
  constructor(bed, today, changed) {
    Object.assign(this, { bed, today, changed, question: null });
    byId("plumb-seen").append(...["stands", "tip", "sunk", "flat"].map((seen) => el("option", { value: seen }, WORDS[`seen_${seen}`])));
    byId("plumb-set").addEventListener("change", () => withUnit(byId("plumb-set"), large()));
    byId("plumb-seen").addEventListener("change", () => this.showTip());
    byId("plumb-form").addEventListener("submit", (event) => {
      event.preventDefault();
      this.submit();
    });
    this.showTip();
  }

  showTip() {
    byId("plumb-tip-field").hidden = byId("plumb-seen").value !== "tip";
  }

  // The spot that can be plumbed, null for none.
  show(question) {
    const moved = this.question && question && (this.question.e !== question.e || this.question.n !== question.n);
    this.question = question;
    if (moved) {
      byId("plumb-note").textContent = "";
      byId("plumb-set").value = "";
    }
    setHidden(byId("plumb-form"), !question);
    this.showBlock();
  }

  showBlock() {
    const some = this.today.plumbs.length > 0;
    setHidden(byId("plumb"), !this.question && !some);
    if (some) unfold(byId("plumb-list"));
  }

  submit() {
    const set_m = readLength(byId("plumb-set").value.trim(), large());
    const seen = byId("plumb-seen").value;
    const tip_m = seen === "tip" ? readLength(byId("plumb-tip").value.trim(), small()) : this.today.heldBy.tip_m;
    const fault = plumbFault(set_m, seen, tip_m, this.today.heldBy);
    byId("plumb-note").textContent = fault ? WORDS[fault] : "";
    if (fault) return;
    const plumb = plumbAt(this.bed, this.question, foundDepthM(set_m, this.today.heldBy, tip_m));
    if (!plumb) return;
    const { peg, distance_m } = this.question;
    this.today.setPlumbs([...this.today.plumbs, { ...plumb, peg: peg ? peg.name : WORDS.no_peg, distance_m }]);
    byId("plumb-set").value = "";
    this.changed();
  }

  list() {
    const { plumbs, levelBy } = this.today;
    const items = plumbs.map((plumb, k) => {
      const wrong = levelBy && levelBy.wrong === k;
      const said = say(wrong ? "plumb_wrong" : "plumb_item", { peg: plumb.peg, distance: distance(plumb.distance_m), depth: length(plumb.found_m) });
      const drop = el("button", { type: "button", class: "plain", onclick: () => this.drop(k) }, WORDS.plumb_drop);
      return el("li", { class: wrong ? "mind" : null }, el("span", {}, said), drop);
    });
    byId("plumb-list").replaceChildren(...items);
    this.showBlock();
    byId("plumb-level").textContent = levelBy ? levelTold(this.today) : "";
    byId("plumb-doubt").textContent = levelBy && levelBy.disagree ? WORDS[plumbs.length === 1 ? "plumb_far" : "plumb_disagree"] : "";
  }

  drop(index) {
    this.today.setPlumbs(this.today.plumbs.filter((_, k) => k !== index));
    this.changed();
  }
}

// A key of the words: why what was seen is no depth, empty where it is one.
function plumbFault(set_m, seen, tip_m, heldBy) {
  if (set_m === null || !(set_m > 0 && set_m < 60)) return "plumb_bad";
  if (seen === "sunk" || seen === "flat") return `plumb_${seen}`;
  if (tip_m === null || !(tip_m >= 0 && tip_m <= heldBy.length_m)) return "plumb_bad_tip";
  return foundDepthM(set_m, heldBy, tip_m) > 0 ? "" : "plumb_bad";
}

function levelTold(today) {
  const { rise_m, sd_m } = today.levelBy;
  const said = { rise: riseShown(rise_m), half: length(DATA.rules.range_z * sd_m), shown: levelShown(today.shown_m) };
  const told = say(rise_m >= 0 ? "plumb_level_up" : "plumb_level_down", said);
  return DATA.mark.kind ? `${told} ${say(`plumb_shows_${DATA.mark.kind}`, said)}` : told;
}
