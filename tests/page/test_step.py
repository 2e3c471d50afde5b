"""One step of a job: cautions first, begin, the question, stop, leave, the result, remarks and photos."""

import base64
import re

from playwright.sync_api import Page, expect

from tests.page.conftest import Fake, OpenAt
from tests.page.fake_jobs import finding
from tests.page.sample_jobs import job_on_its_way

MINUS = "\N{MINUS SIGN}"

PIXEL = base64.b64decode(
    "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg=="
)
"""A picture of one pixel."""


def next_step(open_at: OpenAt, fake: Fake) -> Page:
    """Open the page of the step that comes next in a job on its way."""
    number = job_on_its_way(fake.jobs)
    page = open_at(f"jobs/{number}/passband-symmetry")
    expect(page.get_by_role("heading", name="Passband control symmetry", level=1)).to_be_visible()
    return page


def begin(page: Page) -> None:
    """Begin the step in view."""
    page.get_by_role("button", name="Start", exact=True).click()
    expect(page.locator(".step-head .stand")).to_have_text("on the bench")


def test_the_cautions_come_before_the_leads_and_before_begin(open_at: OpenAt, fake: Fake) -> None:
    """Whoever reads from the top has read the danger before the lead is in the hand."""
    page = next_step(open_at, fake)

    text = page.locator(".step").inner_text()

    places = [
        text.index(part)
        for part in ("can kill", "Why this way", "blocking capacitor rated", "What good looks like", "Start")
    ]
    assert places == sorted(places)


def test_each_way_brings_its_own_hookup_and_is_what_is_begun(open_at: OpenAt, fake: Fake) -> None:
    """The way chosen, and how the adjusters are turned, reach the service."""
    number = job_on_its_way(fake.jobs)
    fake.jobs.end_step(number, "passband-symmetry")
    page = open_at(f"jobs/{number}/oscillator-third")
    hookup = page.get_by_role("region", name="Cautions and hookup")
    expect(hookup.locator(".leads")).to_contain_text("Counter")

    hookup.get_by_label("By ear").check()
    expect(hookup.locator(".leads")).not_to_contain_text("Counter")
    page.get_by_label("By counted turns").check()
    begin(page)

    assert fake.jobs.begun == [{"job": number, "step": "oscillator-third", "way": "by ear", "turning": "counted"}]


def test_a_refusal_to_begin_is_said_beside_the_button(open_at: OpenAt, fake: Fake) -> None:
    """In the service's own words."""
    fake.jobs.refuse_begin = "The counter is missing; connect it and look again."
    page = next_step(open_at, fake)

    page.get_by_role("button", name="Start", exact=True).click()

    expect(page.get_by_role("region", name="Work").get_by_role("alert").first).to_have_text(
        "The counter is missing; connect it and look again."
    )


def test_a_job_that_was_taken_over_is_said_to_have_been(open_at: OpenAt, fake: Fake) -> None:
    fake.jobs.told = "Job 1 was in the hands of process 7 on bench-2, which is gone, and is in this program's now."
    page = next_step(open_at, fake)

    page.get_by_role("button", name="Start", exact=True).click()

    expect(page.get_by_role("region", name="Work").get_by_text(fake.jobs.told)).to_be_visible()


def test_a_step_whose_turn_has_not_come_cannot_be_begun(open_at: OpenAt, fake: Fake) -> None:
    """The button says so, and does nothing."""
    number = job_on_its_way(fake.jobs)
    page = open_at(f"jobs/{number}/filter-t1")

    button = page.get_by_role("button", name="Start", exact=True)
    expect(button).to_have_attribute("aria-disabled", "true")
    button.press("Enter")

    expect(button).to_have_accessible_description(re.compile("which must be done first"))
    assert fake.jobs.begun == []


def test_a_question_is_shown_answered_and_gone(open_at: OpenAt, fake: Fake) -> None:
    """With each of its answers as a button."""
    page = next_step(open_at, fake)
    begin(page)

    fake.jobs.ask(31, "It is 35 Hz off: adjust it, or leave it?", ("adjust", "leave"))
    expect(page.locator(".question__text")).to_have_text("It is 35 Hz off: adjust it, or leave it?")
    page.wait_for_timeout(500)  # a question that has only just appeared takes no answer yet
    page.get_by_role("button", name=re.compile("^Leave", re.IGNORECASE)).first.click()

    expect(page.locator(".question__text")).to_be_hidden()
    assert fake.jobs.answers == [(31, "leave")]


def test_the_phase_is_told(open_at: OpenAt, fake: Fake) -> None:
    """As found, adjust, as left: which is on now."""
    number = job_on_its_way(fake.jobs)
    fake.jobs.end_step(number, "passband-symmetry")
    page = open_at(f"jobs/{number}/oscillator-third")
    begin(page)
    phases = page.get_by_role("list", name="Phases").get_by_role("listitem")
    expect(phases.filter(has_text="now")).to_have_text("As foundnow")

    fake.jobs.phase("adjust")

    expect(phases.filter(has_text="now")).to_have_text("Adjustnow")


def test_escape_stops_the_step_and_it_can_be_gone_on_with(open_at: OpenAt, fake: Fake) -> None:
    """Nothing is lost by stopping."""
    page = next_step(open_at, fake)
    begin(page)

    page.keyboard.press("Escape")

    expect(page.get_by_role("button", name="Continue this step")).to_be_visible()
    assert fake.bench.session is None


def test_what_is_on_the_bench_is_told_on_every_other_part_of_the_page(open_at: OpenAt, fake: Fake) -> None:
    """With the way back; and output off is there too."""
    page = next_step(open_at, fake)
    begin(page)
    fake.jobs.ask(5, "Set agc to off.")

    for part in ("Scan", "Records", "Bench", "Jobs"):
        page.get_by_role("navigation", name="Parts of the page").get_by_role("link", name=part).click()
        work = page.get_by_role("region", name="On the bench")
        expect(work).to_contain_text("On the bench: Passband control symmetry. It asks something of you.")
        expect(page.get_by_role("button", name="Output off")).to_be_in_viewport()
    page.get_by_role("link", name="Show it").click()

    expect(page.get_by_role("heading", name="Passband control symmetry", level=1)).to_be_visible()
    expect(page.locator(".question__text")).to_have_text("Set agc to off.")
    expect(page.get_by_role("region", name="On the bench")).to_be_hidden()


def test_a_scan_cannot_be_begun_while_a_step_is_on(open_at: OpenAt, fake: Fake) -> None:
    """One bench does one thing at a time."""
    page = next_step(open_at, fake)
    begin(page)

    page.get_by_role("link", name="Scan", exact=True).click()

    expect(page.locator("#scan-state")).to_have_text("A step is on the bench: Passband control symmetry.")


def test_a_reload_in_a_step_finds_its_question_again(open_at: OpenAt, fake: Fake) -> None:
    """The address names the step, the service the question."""
    page = next_step(open_at, fake)
    begin(page)
    fake.jobs.ask(8, "Set selectivity to 2 kHz.")
    expect(page.locator(".question__text")).to_have_text("Set selectivity to 2 kHz.")

    page.reload()

    expect(page.locator(".question__text")).to_have_text("Set selectivity to 2 kHz.")
    expect(page.locator(".step-head .stand")).to_have_text("on the bench")


def test_a_second_page_watches_a_step_and_takes_it_over(open_at: OpenAt, fake: Fake) -> None:
    """It sees the question; only after taking over it may answer."""
    page = next_step(open_at, fake)
    begin(page)
    fake.jobs.ask(9, "Set passband to 1.")
    other = open_at("jobs/1/passband-symmetry")
    expect(other.locator(".question__text")).to_have_text("Set passband to 1.")
    expect(other.get_by_role("region", name="Work").get_by_role("button", name="Done")).to_have_count(0)

    other.get_by_role("button", name="Take over").click()

    done = other.get_by_role("region", name="Work").get_by_role("button", name="Done", exact=True)
    expect(done).to_be_visible()
    other.wait_for_timeout(500)
    done.click()
    expect(other.locator(".question__text")).to_be_hidden()
    expect(page.locator("#urgent")).to_contain_text("Another page has taken over the bench.")
    assert fake.jobs.answers == [(9, "done")]


def test_a_lost_service_is_told_with_the_step_and_found_again(open_at: OpenAt, fake: Fake) -> None:
    """What was asked meanwhile is there when the service is back."""
    page = next_step(open_at, fake)
    begin(page)
    fake.bench.closing.set()
    page.route("**/api/**", lambda route: route.abort())
    expect(page.locator("#urgent")).to_contain_text("out of reach during the step “Passband control symmetry”")
    expect(page.get_by_role("banner").get_by_text("Output not known")).to_be_visible()

    fake.bench.closing.clear()
    fake.jobs.ask(12, "Set passband to -1.")
    page.unroute("**/api/**")

    expect(page.locator("#urgent")).not_to_contain_text("out of reach")
    expect(page.locator(".question__text")).to_have_text("Set passband to -1.")


def test_a_service_restarted_meanwhile_has_no_step_on_and_the_page_says_so(open_at: OpenAt, fake: Fake) -> None:
    """The step can be gone on with where it was."""
    page = next_step(open_at, fake)
    begin(page)
    fake.bench.closing.set()
    page.route("**/api/**", lambda route: route.abort())
    expect(page.locator("#urgent")).to_contain_text("out of reach")

    fake.bench.session = None
    fake.bench.closing.clear()
    page.unroute("**/api/**")

    expect(page.get_by_role("button", name="Continue this step")).to_be_visible()


def test_a_step_is_left_with_a_reason(open_at: OpenAt, fake: Fake) -> None:
    """Without one it is not left: the record is to tell it."""
    page = next_step(open_at, fake)
    page.get_by_text("Leave this step as it is").click()

    page.get_by_role("button", name="Leave the step").click()
    expect(page.get_by_text("Enter a reason first")).to_be_visible()
    page.get_by_label("Why it is left as it is").fill("The knob is glued.")
    page.get_by_role("button", name="Leave the step").click()

    expect(page.locator(".step-head .stand")).to_have_text("left unmeasured")
    expect(page.get_by_role("region", name="Result")).to_contain_text("The knob is glued.")


def test_the_result_tells_every_figure_with_limit_and_verdict(open_at: OpenAt, fake: Fake) -> None:
    """As found beside as left, what was turned, advice and doubts."""
    number = job_on_its_way(fake.jobs)
    page = open_at(f"jobs/{number}/beat-oscillator")

    row = page.get_by_role("table", name="Figures of this step").get_by_role("row", name="frequency error")
    cells = [text.replace("\N{NO-BREAK SPACE}", " ") for text in row.get_by_role("cell").all_inner_texts()]
    assert cells[:3] == [f"{MINUS}64.3 ± 2.7 Hz", "2.1 ± 2.7 Hz", "±20 Hz"]
    expect(row.get_by_role("cell").last).to_have_text("within no adjustment")
    off = open_at(f"jobs/{number}/passband-third").get_by_role("row", name="centre error")
    expect(off).to_contain_text("The centre error is 5.9 %; the limit is 5 %.")
    result = page.get_by_role("region", name="Result")
    expect(result).to_contain_text("beat oscillator slug 0.38 turns anticlockwise in all")
    expect(result).to_contain_text("Seal the slug when the set has been warm for an hour.")


def test_a_figure_that_could_not_be_measured_says_why(open_at: OpenAt, fake: Fake) -> None:
    """No blank, no zero."""
    number = job_on_its_way(fake.jobs)
    page = open_at(f"jobs/{number}/passband-third")

    skew = page.get_by_role("table", name="Figures of this step").get_by_role("row", name="skew")
    expect(skew).to_contain_text("not measured")
    expect(skew).to_contain_text("The counter gave no steady count.")
    expect(page.get_by_role("region", name="Doubts")).to_contain_text("The lower edge lies outside the sweep.")


def test_what_was_told_while_an_adjuster_was_turned_stands_under_that_head(open_at: OpenAt, fake: Fake) -> None:
    """No measurement as left is there yet; figures with a limit come first."""
    number = job_on_its_way(fake.jobs)
    gain, level = "level still to be gained", finding("level", -49.97, None, "dBm")
    adjusted = [finding(gain, 0.01, 0.5, "dB")]
    figures = [
        {"name": "level", "where": "", "found": level, "left": None},
        {"name": gain, "where": "", "found": finding(gain, None, 0.5, "dB"), "left": adjusted[0]},
    ]
    fake.jobs.end_step(number, "filter-t2", as_found=[level], adjusted=adjusted, figures=figures)

    table = open_at(f"jobs/{number}/filter-t2").get_by_role("table", name="Figures of this step")

    expect(table.get_by_role("columnheader").nth(2)).to_have_text("While adjusting")
    expect(table.get_by_role("row").nth(1)).to_contain_text("level still to be gained")
    expect(table.get_by_role("row").nth(1)).to_contain_text("0.0 ± 2.7 dB")
    expect(table.get_by_role("row").nth(1)).to_contain_text("within")
    expect(table.get_by_role("row").nth(2)).to_contain_text(f"{MINUS}50.0 ± 2.7 dBm")


def test_a_sweep_as_found_lies_over_the_one_as_left(open_at: OpenAt, fake: Fake) -> None:
    """Told apart by letter and words, and described for those who do not see it."""
    number = job_on_its_way(fake.jobs)
    page = open_at(f"jobs/{number}/passband-third")

    expect(page.locator("#step-chart-caption")).to_contain_text("A: as left, run 2")
    expect(page.locator("#step-chart-caption")).to_contain_text("B: as found, run 1")
    expect(page.locator("#step-chart-plot")).to_have_attribute("aria-label", re.compile("As left: 41 readings"))
    expect(page.locator("#step-chart-canvas .bk-Figure")).to_be_visible()


def test_figures_at_several_places_stand_in_groups(open_at: OpenAt, fake: Fake) -> None:
    """The place is told once; when they were taken, by the column."""
    number = job_on_its_way(fake.jobs)
    found = [finding("skew", 0.4, 2, "dB", where=place) for place in ("1.6 kHz", "3.2 kHz")]
    found += [finding("width error", 3, 20, "%", where=place) for place in ("1.6 kHz", "3.2 kHz")]
    fake.jobs.end_step(number, "passband-third", as_found=found, as_left=[])

    page = open_at(f"jobs/{number}/passband-third")

    heads = page.get_by_role("table", name="Figures of this step").locator(".findings__group")
    expect(heads).to_have_text(["1.6 kHz", "3.2 kHz"])


def test_a_run_that_came_to_no_end_of_its_own_says_why(open_at: OpenAt, fake: Fake) -> None:
    """Nobody has to guess why the bench stands still."""
    number = job_on_its_way(fake.jobs)
    run = fake.jobs.add_run(number, "passband-third", "as left", 30.0)
    run.update(ending="stopped", ending_text="The page that operates was gone for ten seconds.")
    fake.jobs.step(number, "passband-third")["state"]["runs"][-1]["ending"] = "stopped"
    fake.jobs.step(number, "passband-third")["state"].update(on=True, ending=None)

    work = open_at(f"jobs/{number}/passband-third").get_by_role("region", name="Work")

    expect(work.get_by_role("status").first).to_contain_text(
        "The last run was stopped. The page that operates was gone for ten seconds. What was measured is saved."
    )
    expect(work.get_by_role("button", name="Continue this step")).to_be_visible()


def test_every_run_of_a_step_can_be_taken_away_and_looked_into(open_at: OpenAt, fake: Fake) -> None:
    """As CSV and JSON, and with all its readings on the scan page."""
    number = job_on_its_way(fake.jobs)
    page = open_at(f"jobs/{number}/passband-third")
    runs = page.get_by_role("region", name="Runs of this step")

    runs.get_by_text("2 runs of this step, with every reading").click()
    expect(runs.get_by_role("link", name="CSV of run 2")).to_have_attribute("href", "/api/scans/2/readings.csv")
    runs.get_by_role("link", name="Readings of run 2").click()

    expect(page.locator("#view-subtitle")).to_contain_text("scan 2,")


def test_remarks_and_photos_are_kept_with_the_step(open_at: OpenAt, fake: Fake) -> None:
    """Both are there at once, and the file arrived whole."""
    page = next_step(open_at, fake)
    notes = page.get_by_role("region", name="Remarks and photos")

    notes.get_by_label("Remark").fill("L3 has been turned before.")
    notes.get_by_role("button", name="Add the remark").click()
    expect(notes).to_contain_text("L3 has been turned before.")
    expect(notes.get_by_label("Remark")).to_have_value("")
    notes.get_by_label("Add photos").set_input_files({"name": "seal.png", "mimeType": "image/png", "buffer": PIXEL})

    expect(notes.get_by_role("img", name=re.compile("seal.png"))).to_be_visible()
    assert fake.jobs.photos == [PIXEL]


def test_the_runs_of_a_job_do_not_crowd_the_kept_scans(open_at: OpenAt, fake: Fake) -> None:
    """They belong to their step."""
    job_on_its_way(fake.jobs)

    page = open_at("scan")

    expect(page.locator("#kept-state")).to_contain_text("None yet.")


def test_an_instrument_that_comes_late_opens_the_step_that_waited_for_it(open_at: OpenAt, fake: Fake) -> None:
    """A service that has just started opens its instruments while the page already reads the job."""
    number = job_on_its_way(fake.jobs)
    state = fake.jobs.step(number, "passband-symmetry")["state"]
    state["refused"] = ["The bench has no counter ready."]
    counter = fake.bench.instruments[2]
    counter.update(state="missing", detail="no answer at its address")
    page = open_at(f"jobs/{number}/passband-symmetry")
    expect(page.locator("#begin-state")).to_have_text("The bench has no counter ready.")

    state["refused"] = []
    counter.update(state="ready", detail=None)
    fake.bench.change()

    expect(page.locator("#begin-state")).to_have_text("")
    expect(page.get_by_role("button", name="Start", exact=True)).to_have_attribute("aria-disabled", "false")
