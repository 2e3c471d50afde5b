"""Jobs on the page: their list, a new one, and one with its plan at a glance."""

import re

from playwright.sync_api import Locator, Page, expect

from tests.page.conftest import Fake, OpenAt
from tests.page.fake_jobs import finding
from tests.page.sample_jobs import job_done, job_on_its_way
from tests.sequences.receiver_files import step_count

MINUS = "\N{MINUS SIGN}"


def plan_row(page: Page, step: str) -> Locator:
    """Find the row of a step in the plan."""
    return page.locator(f'.plan-row[data-step="{step}"]')


def test_the_first_thing_in_view_are_the_jobs(open_at: OpenAt, fake: Fake) -> None:
    """Those on their way above those that are done, each with how its steps stand in words."""
    job_on_its_way(fake.jobs)
    job_done(fake.jobs)

    page = open_at("")

    on_the_way = page.get_by_role("region", name="In progress").get_by_role("listitem")
    expect(on_the_way.first).to_contain_text("Skerry Works 7, serial 0412")
    expect(on_the_way.first).to_contain_text(f"3 of {step_count('skerry-7')} steps")
    expect(page.get_by_role("region", name="Done")).to_contain_text("1 part suspected")
    expect(page.get_by_role("link", name="Jobs", exact=True)).to_have_attribute("aria-current", "page")


def test_without_a_job_the_page_says_how_to_begin(open_at: OpenAt) -> None:
    """A first day is no blank."""
    page = open_at("jobs")

    expect(page.get_by_role("status").filter(has_text="No job yet.")).to_be_visible()
    expect(page.get_by_role("link", name="Start a job on a Millrace 5")).to_be_visible()


def test_a_job_is_begun_with_its_details_after_the_cautions_of_its_receiver(open_at: OpenAt, fake: Fake) -> None:
    """The cautions stand above the fields; what was typed reaches the service."""
    page = open_at("jobs")
    page.get_by_role("link", name="Start a job on a Millrace 5").click()

    form = page.locator("#jobs-page form")
    expect(form.get_by_label("Receiver")).to_have_value("millrace-5")
    expect(form).to_contain_text("The chassis can be live")
    for label, text in (("Make and model", "Millrace"), ("Serial number", "88"), ("Owner", "a neighbour")):
        form.get_by_label(label, exact=True).fill(text)
    form.get_by_label("Room temperature").fill("20,5")
    form.get_by_label("What the owner says").fill("Hums.")
    form.get_by_role("button", name="Start the job").click()

    expect(page.get_by_role("heading", name="Millrace 5", level=1)).to_be_visible()
    job = fake.jobs.jobs[0]
    assert (job["make"], job["serial"], job["owner"], job["remark"]) == ("Millrace", "88", "a neighbour", "Hums.")
    assert job["room_temperature_c"] == 20.5


def test_a_temperature_that_is_none_is_refused_beside_its_field(open_at: OpenAt, fake: Fake) -> None:
    """Nothing is sent, and the field has the focus."""
    page = open_at("jobs/new")
    form = page.locator("#jobs-page form")
    expect(form.get_by_label("Receiver")).to_be_enabled()

    form.get_by_label("Room temperature").fill("warm")
    form.get_by_role("button", name="Start the job").click()

    expect(form).to_contain_text("Room temperature must be a number")
    expect(form.get_by_label("Room temperature")).to_be_focused()
    assert fake.jobs.jobs == []


def test_the_plan_tells_each_step_as_found_and_as_left_in_words(open_at: OpenAt, fake: Fake) -> None:
    """The figure furthest out, its limit, how it stands; the next step is marked."""
    number = job_on_its_way(fake.jobs)

    page = open_at(f"jobs/{number}")

    beat = plan_row(page, "beat-oscillator")
    expect(beat).to_contain_text(f"{MINUS}64.3 ± 2.7 Hz")
    expect(beat).to_contain_text("frequency error, limit ±20 Hz, beyond")
    expect(beat).to_contain_text("2.1 ± 2.7 Hz")
    expect(beat.locator(".stand")).to_have_text("good")
    expect(plan_row(page, "passband-third").locator(".stand")).to_have_text("off")
    expect(plan_row(page, "passband-third")).to_contain_text("The owner wants the seals left whole.")
    following = plan_row(page, "passband-symmetry")
    expect(following.locator(".stand")).to_have_text("next")
    expect(following).to_have_attribute("aria-current", "step")
    expect(page.get_by_role("link", name="Continue: Passband control symmetry")).to_be_visible()


def test_a_step_that_cannot_come_yet_says_why(open_at: OpenAt, fake: Fake) -> None:
    """In the service's own words."""
    number = job_on_its_way(fake.jobs)

    page = open_at(f"jobs/{number}")

    waiting = plan_row(page, "filter-t1")
    expect(waiting.locator(".stand")).to_have_text("waits")
    expect(waiting).to_contain_text("It rests on T2, second IF, Third oscillator, which must be done first.")


def test_what_a_step_waits_for_is_told_by_the_numbers_of_the_list(open_at: OpenAt, fake: Fake) -> None:
    """In place of the sentence with all their titles; what else is against it stays."""
    number = job_on_its_way(fake.jobs)
    refused = ["T1, second IF waits for 'Third oscillator' and 'T2, second IF'.", "The bench has no meter ready."]
    waits_for = ["filter-t2", "oscillator-third"]
    fake.jobs.step(number, "filter-t1")["state"].update(refused=refused, waits_for=waits_for)

    reasons = plan_row(open_at(f"jobs/{number}"), "filter-t1").get_by_role("listitem")

    expect(reasons).to_have_text(["Waits for steps 5 and 6.", "The bench has no meter ready."])


def test_what_keeps_many_steps_waiting_is_said_once(open_at: OpenAt, fake: Fake) -> None:
    """Not on each of their rows."""
    number = job_on_its_way(fake.jobs)
    reason = "The step 'Third oscillator' is not finished; go on with it, or leave it, first."
    for step in fake.jobs.jobs[0]["steps"][5:]:
        step["state"]["refused"] = [reason]

    page = open_at(f"jobs/{number}")

    expect(page.get_by_text(reason)).to_have_count(1)


def test_a_change_elsewhere_comes_by_itself(open_at: OpenAt, fake: Fake) -> None:
    """Another page ended a step: this one shows it without being asked."""
    number = job_on_its_way(fake.jobs)
    page = open_at(f"jobs/{number}")
    expect(plan_row(page, "passband-symmetry").locator(".stand")).to_have_text("next")

    fake.jobs.end_step(number, "passband-symmetry", as_found=[finding("difference of the two ends", 12, 60)])

    expect(plan_row(page, "passband-symmetry").locator(".stand")).to_have_text("good")
    expect(page.get_by_text(f"4 of {step_count('skerry-7')} steps done")).to_be_visible()


def test_the_details_of_a_job_are_changed_in_a_dialog(open_at: OpenAt, fake: Fake) -> None:
    """By keyboard; Escape closes it and changes nothing."""
    number = job_on_its_way(fake.jobs)
    page = open_at(f"jobs/{number}")

    page.get_by_role("button", name="Change").press("Enter")
    dialog = page.get_by_role("dialog", name="Details of the job")
    dialog.get_by_label("Operator").fill("nobody")
    page.keyboard.press("Escape")
    expect(dialog).to_be_hidden()
    assert fake.jobs.jobs[0]["operator"] == "night shift"
    page.get_by_role("button", name="Change").press("Enter")
    expect(dialog.get_by_label("Operator")).to_have_value("night shift")
    dialog.get_by_label("Operator").fill("day shift")
    dialog.get_by_role("button", name="Save").click()

    expect(dialog).to_be_hidden()
    expect(page.get_by_role("region", name="Details")).to_contain_text("day shift")


def test_a_job_is_paused_taken_up_and_ended(open_at: OpenAt, fake: Fake) -> None:
    """Each is one press, and can be taken back."""
    number = job_on_its_way(fake.jobs)
    page = open_at(f"jobs/{number}")

    for button, state in (("Pause the job", "paused"), ("Continue the job", "open"), ("End the job here", "done")):
        page.get_by_role("button", name=button).click()
        expect(page.get_by_role("region", name="Details")).to_contain_text(re.compile(f"State\\s*{state}"))
        assert fake.jobs.jobs[0]["state"] == state


def test_a_job_that_is_not_there_is_said_not_to_be(open_at: OpenAt) -> None:
    """An old bookmark leads to a sentence."""
    expect(open_at("jobs/9").get_by_role("status").filter(has_text="There is no job number 9.")).to_be_visible()


def test_reports_and_files_are_one_press_away(open_at: OpenAt, fake: Fake) -> None:
    """From the head of the job."""
    number = job_on_its_way(fake.jobs)

    files = open_at(f"jobs/{number}").get_by_role("group", name="Files of this job")

    for name, path in (("Report", "report.html"), ("PDF", "report.pdf"), ("Job file", "job.zip")):
        expect(files.get_by_role("link", name=name)).to_have_attribute("href", f"/api/jobs/{number}/{path}")
