"""A decision follows its reading, whatever becomes of its sheet, and never lands on another."""

import csv
import io
import random
from datetime import datetime, time

import openpyxl
import pytest

from survey.errors import SurveyError
from survey.fieldbook import decisions_with_tags
from survey.findings import Grade
from tests.made.findings import found

COLUMNS = ("peg", "clock", "distance (m)", "depth (m)", "date", "time", "observer", "note")
PEGS = ("1", "2", "4", "5", "6", "A")
SURVEYED, DECIDED = 420, 300
EDITS = ("insert", "delete", "sort", "change", "repeat")


def made_row(rng, name):
    """A reading of its own name, in the note: the note is no part of its tag, so it tells the truth of the test."""
    return {
        "peg": rng.choice(PEGS),
        "clock": rng.choice(["11", "11:30", "12", "12:30", "1"]),
        "distance (m)": f"{rng.randrange(40, 400) / 10:.1f}",
        "depth (m)": f"{rng.randrange(50, 300) / 100:.2f}",
        "date": f"2026-05-{rng.randrange(1, 29):02d}",
        "time": f"{rng.randrange(8, 18):02d}:{rng.randrange(60):02d}",
        "observer": rng.choice(["Maud", "Ted Fry", ""]),
        "note": name,
    }


def said(row):
    return tuple(row[name] for name in COLUMNS if name != "note")


def as_csv(rows, columns=COLUMNS):
    text = io.StringIO()
    writer = csv.DictWriter(text, columns, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()


def typed(name, text):
    """A cell as a spreadsheet keeps it: figures, days and times of day, not their texts."""
    if name == "date":
        return datetime.fromisoformat(text)
    if name == "time" or (name == "clock" and ":" in text):
        return time.fromisoformat(text)
    return float(text) if name in {"distance (m)", "depth (m)", "clock"} else text


def as_xlsx(rows, columns=COLUMNS):
    book = openpyxl.Workbook()
    book.active.append(columns)
    for row in rows:
        book.active.append([typed(name, row[name]) if row[name] else None for name in columns])
    data = io.BytesIO()
    book.save(data)
    return data.getvalue()


def decision_rows(book, rows_of, rng):
    """Decisions on readings taken at random, by tag; each notes which reading it means."""
    places = [(file, at) for file, rows in rows_of.items() for at in range(len(rows))]
    lines = []
    for file, at in rng.sample(places, DECIDED):
        row = rows_of[file][at]
        lines.append({"tag": book.tags[file, at + 2], "decision": "out", "note": row["note"]})
    return lines


def edited(rows, rng):
    """The rows of a sheet after somebody worked on it; readings changed lose the name of what they were."""
    rows = [dict(row) for row in rows]
    for edit in rng.choices(EDITS, k=25):
        at = rng.randrange(len(rows))
        if edit == "insert":
            rows.insert(at, made_row(rng, f"new {rng.random()}"))
        elif edit == "delete":
            del rows[at]
        elif edit == "sort":
            key = rng.choice(COLUMNS)
            rows.sort(key=lambda row, key=key: row[key], reverse=rng.random() < 0.5)
        elif edit == "repeat":
            rows.insert(rng.randrange(len(rows)), rows[at] | {"note": rng.choice([rows[at]["note"], "again"])})
        else:
            name = rng.choice(COLUMNS[:-1])
            rows[at] = rows[at] | {name: made_row(rng, "")[name]}
    return rows


@pytest.mark.parametrize("seed", range(8))
def test_of_300_decisions_none_lands_on_another_reading(read, seed):
    rng = random.Random(seed)  # noqa: S311 - a test draws the same every time
    rows = [made_row(rng, f"r{k}") for k in range(SURVEYED)]
    rows[7] = rows[3] | {"note": "r7"}
    rows[9] = rows[5] | {"note": rows[5]["note"]}
    rows_of = {"readings-a.csv": rows[:200], "readings-b.csv": rows[200:]}
    before = read(**{f"{file[:-4]}__csv": as_csv(part) for file, part in rows_of.items()})
    decisions = decision_rows(before, rows_of, rng)
    was = {row["note"]: said(row) for row in rows}

    columns = rng.sample(COLUMNS, len(COLUMNS))
    parts = [edited(part, rng) for part in rows_of.values()]
    after = read(
        readings__csv=as_csv(parts[1], columns),
        **{"readings-neu__xlsx": as_xlsx(parts[0], columns)},
        decisions__csv=as_csv(decisions, ("tag", "decision", "note")),
    )
    files = {"readings-neu.xlsx": parts[0], "readings.csv": parts[1]}
    for decided in after.decisions:
        row = files[decided.about.file][decided.about.row - 2]
        assert said(row) == was[decided.note]
        assert row["note"] == decided.note
    told = [f for f in after.findings if f.place.file == "decisions.csv" and f.grade is Grade.ERROR]
    assert {f.code for f in told} <= {"decision-reading-gone", "decision-tag-shared"}
    applied = {decided.place.row for decided in after.decisions}
    assert applied.isdisjoint({f.place.row for f in told})
    assert applied | {f.place.row for f in told} == set(range(2, DECIDED + 2))
    assert {(r.place.file, r.place.row) for r in after.readings if not r.use} == {
        (d.about.file, d.about.row) for d in after.decisions
    }

    # What is untouched and alone in what it says keeps its decision.
    now = [row for part in parts for row in part]
    alone = {row["note"] for row in now if sum(said(other) == said(row) for other in now) == 1}
    untouched = {row["note"] for row in now if was.get(row["note"]) == said(row)} & alone - {"r3", "r5", "r7"}
    kept = {decided.note for decided in after.decisions}
    assert untouched & {line["note"] for line in decisions} <= kept
    assert len(kept) > DECIDED / 2


PLAIN = "peg,angle,distance (m),depth (m),date,note\n"
FIRST, SECOND = "1,0,20,1.4,2026-05-03,\n", "2,0,30,1.5,2026-05-03,\n"


def tag_of(read, line, at=2, rest=""):
    return read(readings__csv=PLAIN + line + rest).tags["readings.csv", at]


def decided(read, readings, *lines, head="tag,row,decision,by,note\n"):
    return read(readings__csv=PLAIN + readings, decisions__csv=head + "".join(f"{line}\n" for line in lines))


@pytest.mark.parametrize("typed", [str.lower, lambda tag: tag.replace("-", ""), lambda tag: tag.replace("-", " – ")])
def test_a_tag_may_be_typed_in_any_case_with_or_without_its_hyphen(read, typed):
    tag = tag_of(read, FIRST)
    book = decided(read, SECOND + FIRST, f"{typed(tag)},,out,,")
    assert [d.about.row for d in book.decisions] == [3]
    assert [r.use for r in book.readings] == [True, False]


@pytest.mark.parametrize(
    "same",
    [
        "1,0,20.00,1.40 m,2026-05-03,\n",
        "1,0,2000 cm,140 cm,3 May 2026,\n",
        "Stump,0,20,1.4,2026-05-03,\n",
        "1,0,20,1.4,2026-05-03,over weed\n",
    ],
)
def test_the_same_reading_in_other_words_has_the_same_tag(read, same):
    assert tag_of(read, same) == tag_of(read, FIRST)


@pytest.mark.parametrize(
    "other",
    [
        "2,0,20,1.4,2026-05-03,\n",
        "1,5,20,1.4,2026-05-03,\n",
        "1,0,21,1.4,2026-05-03,\n",
        "1,0,20,1.41,2026-05-03,\n",
        "1,0,20,1.4,2026-05-04,\n",
        "9,0,20,1.4,2026-05-03,\n",
        "1,0,20,deep,2026-05-03,\n",
    ],
)
def test_a_reading_that_says_something_else_has_another_tag(read, other):
    assert tag_of(read, other) != tag_of(read, FIRST)


def test_a_decision_on_a_changed_reading_is_named_and_not_applied(read):
    tag = tag_of(read, FIRST)
    book = decided(read, FIRST.replace("1.4", "1.7"), f"{tag},2,out,Maud,round a snag")
    (told,) = found(book, "decision-reading-gone")
    assert (told.grade, str(told.place)) == (Grade.ERROR, 'decisions.csv, row 2, column "tag"')
    assert "the decision (out; Maud; round a snag) is not applied" in told.problem
    assert (
        "readings.csv, row 2 now says peg 1, angle 0, distance (m) 20, depth (m) 1.7, date 2026-05-03" in told.problem
    )
    assert f"[{book.tags['readings.csv', 2]}]" in told.problem
    assert (book.decisions, [r.use for r in book.readings]) == ((), [True])


def test_a_row_number_beside_a_tag_is_checked_and_the_tag_followed(read):
    tag = tag_of(read, FIRST)
    book = decided(read, SECOND + FIRST, f"{tag},2,out,,")
    (told,) = found(book, "decision-strayed")
    assert told.grade is Grade.WARNING
    assert f"row 2: {tag} stands in readings.csv, row 3" in told.problem
    assert [r.use for r in book.readings] == [True, False]
    assert found(decided(read, SECOND + FIRST, f"{tag},3,out,,"), "decision-strayed") == []


@pytest.mark.parametrize("slip", [lambda t: t[:-1] + ("A" if t[-1] != "A" else "C"), lambda t: t[1] + t[0] + t[2:]])
def test_a_wrong_tag_is_refused_with_the_nearest(read, slip):
    tag = tag_of(read, FIRST)
    assert slip(tag) != tag
    book = decided(read, SECOND + FIRST, f"{slip(tag)},2,out,,")
    (told,) = found(book, "decision-tag-wrong")
    assert told.grade is Grade.ERROR
    assert f'"{slip(tag)}" is not the tag of a reading' in told.problem
    assert told.remedy.startswith(f"Perhaps {tag} (readings.csv, row 3: peg 1, ")
    assert book.decisions == ()


def test_a_tag_like_no_other_is_refused_with_what_stands_in_its_row(read):
    book = decided(read, FIRST, "snag,2,out,,")
    (told,) = found(book, "decision-tag-wrong")
    assert "readings.csv, row 2 now says peg 1" in told.remedy


def test_readings_that_say_the_same_are_told_apart_by_what_stands_beside(read):
    twin = FIRST.replace(",\n", ",again\n")
    book = read(readings__csv=PLAIN + FIRST + twin)
    one, two = book.tags["readings.csv", 2], book.tags["readings.csv", 3]
    assert one[:8] == two[:8] == tag_of(read, FIRST)[:8]
    assert [d.about.row for d in decided(read, twin + FIRST, f"{two},,out,,").decisions] == [2]
    # One of them gone, the longer tag still means its own; with its note changed it means none.
    assert [d.about.row for d in decided(read, SECOND + twin, f"{two},,out,,").decisions] == [3]
    gone = decided(read, FIRST + FIRST.replace(",\n", ",thrice\n"), f"{two},,out,,")
    assert len(found(gone, "decision-reading-gone")) == 1
    shared = decided(read, FIRST + twin, f"{tag_of(read, FIRST)},,out,,")
    (told,) = found(shared, "decision-tag-shared")
    assert one in told.remedy
    assert two in told.remedy


def test_rows_alike_in_everything_are_counted(read):
    book = read(readings__csv=PLAIN + FIRST + SECOND + FIRST)
    tag = tag_of(read, FIRST)
    assert [book.tags["readings.csv", row] for row in (2, 4)] == [f"{tag} 1/2", f"{tag} 2/2"]
    both = decided(read, FIRST + SECOND + FIRST, f"{tag} 2/2,,out,,", f"{tag}  1 of 2,,keep,,")
    assert [(d.about.row, d.answer) for d in both.decisions] == [(4, "out"), (2, "keep")]
    # With one of them dropped nobody can tell which was meant.
    for left in (f"{tag} 2/2,,out,,", f"{tag} 1/2,,out,,"):
        (told,) = found(decided(read, FIRST + SECOND, left), "decision-reading-gone")
        assert f"Perhaps {tag} (readings.csv, row 2" in told.remedy


def test_a_row_that_cannot_be_read_can_be_answered(read):
    broken = "1,0,20,deep,2026-05-03,\n"
    tag = tag_of(read, broken)
    (one,) = decided(read, SECOND + broken, f"{tag},,out,,").decisions
    assert one.about.row == 3


def test_an_old_sheet_works_as_before_and_is_told_of(read):
    book = decided(read, FIRST + SECOND, "3,out,Maud,", head="row,decision,by,note\n")
    assert [r.use for r in book.readings] == [True, False]
    (told,) = found(book, "decision-untagged")
    assert (told.grade, told.place.row) == (Grade.NOTE, 2)
    assert book.tags["readings.csv", 3] in told.problem


OLD = 'Ours\r\nrow;decision;by;note\r\n# seen on the bank\r\n3;out;Maud;"round; a snag"\r\n\r\n9;keep;;\r\n2;keep;;'


@pytest.mark.parametrize("codec", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_tags_are_written_in_and_all_else_stays(folder, codec):
    venue = folder(readings__csv=PLAIN + FIRST + SECOND, decisions__csv=OLD.replace("Maud", "Zoë").encode(codec))
    change = decisions_with_tags(venue)
    old, new = change.before.split("\r\n"), change.after.split("\r\n")
    assert new[1] == f"{old[1]};tag;said"
    assert new[3].startswith(f"{old[3]};")
    assert [new[k] for k in (0, 2, 4, 5)] == [old[k] for k in (0, 2, 4, 5)]
    assert new[6].startswith(f"{old[6]};")
    assert change.new == change.after.encode(codec)
    assert (venue / "decisions.csv").read_bytes() == change.old
    (venue / "decisions.csv").write_bytes(change.new)
    assert decisions_with_tags(venue).new == change.new


def test_rows_beside_tags_are_brought_up_to_date(folder, read):
    tag = tag_of(read, FIRST)
    sheet = f"tag,said,row,decision\n{tag},the old one,2,out\n"
    change = decisions_with_tags(folder(readings__csv=PLAIN + SECOND + FIRST, decisions__csv=sheet))
    assert change.after == f"tag,said,row,decision\n{tag},the old one,3,out\n"


def test_a_workbook_is_not_written_to_but_says_what_to_write(folder):
    book = openpyxl.Workbook()
    for row in (["row", "decision"], [2, "out"]):
        book.active.append(row)
    data = io.BytesIO()
    book.save(data)
    venue = folder(readings__csv=PLAIN + FIRST, decisions__xlsx=data.getvalue())
    with pytest.raises(SurveyError, match=r"is in a workbook(?s:.*)row 2: tag \w{4}-\w{4}, said peg 1, angle 0"):
        decisions_with_tags(venue)


def test_without_a_decisions_sheet_there_is_nothing_to_write(folder):
    with pytest.raises(SurveyError, match="There is no decisions sheet"):
        decisions_with_tags(folder())
