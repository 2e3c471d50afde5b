"""The records: jobs found again, the history of a set, kept scans, a job file brought in; and the bench."""

from playwright.sync_api import expect

from tests.page.conftest import Fake, OpenAt
from tests.page.sample_jobs import YEARS, job_done, job_on_its_way, years_of_figures
from tests.server.benches import eventually


def test_jobs_are_found_by_receiver_step_verdict_date_and_text(open_at: OpenAt, fake: Fake) -> None:
    """Each field reaches the service under its own name."""
    job_on_its_way(fake.jobs)
    job_done(fake.jobs)
    page = open_at("records")
    form = page.get_by_role("search", name="Jobs")
    expect(page.locator(".record")).to_have_count(2)

    form.get_by_label("Receiver").select_option("Skerry 7")
    expect(form.get_by_label("Step")).to_be_enabled()
    form.get_by_label("Step").select_option("Beat oscillator")
    form.get_by_label("Verdict").select_option("off")
    form.get_by_label("From").fill("2026-11-01")
    form.get_by_label("To").fill("2026-11-30")
    form.get_by_label("Text").fill("0412")
    form.get_by_role("button", name="Find").click()

    expect(page.locator(".record")).to_have_count(1)
    eventually(lambda: "text" in fake.jobs.searches[-1])  # each field that changes is a search of its own
    assert fake.jobs.searches[-1] == {
        "text": "0412",
        "receiver_id": "skerry-7",
        "step": "beat-oscillator",
        "verdict": "off",
        "since": "2026-11-01T00:00:00+00:00",
        "until": "2026-12-01T00:00:00+00:00",
    }


def test_a_search_that_finds_nothing_says_so(open_at: OpenAt, fake: Fake) -> None:
    """And is cleared with one press."""
    job_on_its_way(fake.jobs)
    page = open_at("records")
    page.get_by_label("Text").fill("no such set")
    page.get_by_role("button", name="Find").click()
    expect(page.get_by_text("No jobs found.")).to_be_visible()

    page.get_by_role("button", name="Clear").click()

    expect(page.locator(".record")).to_have_count(1)


def test_each_job_offers_its_report_files_and_history(open_at: OpenAt, fake: Fake) -> None:
    """Named for whoever hears them out of context."""
    job_on_its_way(fake.jobs)

    page = open_at("records")

    for kind, address in (
        ("Report", "/api/jobs/1/report.html"),
        ("PDF", "/api/jobs/1/report.pdf"),
        ("Job file", "/api/jobs/1/job.zip"),
        ("History", "#/records/history?receiver=skerry-7&serial=0412"),
    ):
        expect(page.get_by_role("link", name=f"{kind} of job 1, Skerry 7")).to_have_attribute("href", address)


def test_a_job_file_is_brought_in(open_at: OpenAt) -> None:
    """And one that is none is refused with the service's sentence."""
    page = open_at("records")

    chooser = page.get_by_label("Bring in a job file")
    chooser.set_input_files({"name": "old.zip", "mimeType": "application/zip", "buffer": b"PK..."})
    expect(page.get_by_text("old.zip is in the record now as job 1.")).to_be_visible()
    expect(page.locator(".record")).to_have_count(1)
    chooser.set_input_files({"name": "a.txt", "mimeType": "text/plain", "buffer": b"no"})

    expect(page.get_by_text("a.txt was not brought in. The file is no zip archive")).to_be_visible()


def test_the_history_of_a_set_is_drawn_and_told(open_at: OpenAt, fake: Fake) -> None:
    """One picture a figure, and every value in its table."""
    number = job_on_its_way(fake.jobs)
    years_of_figures(fake.jobs, number)

    page = open_at("records/history?receiver=skerry-7&serial=0412")

    section = page.get_by_role("region", name="Beat oscillator")
    expect(section).to_contain_text("2.0 ± 2.9 Hz as left")
    expect(section.locator(".limit__left")).to_have_count(len(YEARS))
    section.get_by_text("16 figures as a table").click()
    expect(section.get_by_role("row")).to_have_count(1 + 2 * len(YEARS))
    section.get_by_role("link", name="job 1").first.click()
    expect(page.get_by_role("heading", name="Beat oscillator", level=1)).to_be_visible()


def test_a_history_that_tells_of_some_jobs_only_says_so(open_at: OpenAt, fake: Fake) -> None:
    """And days narrow it, in the address."""
    years_of_figures(fake.jobs, job_on_its_way(fake.jobs))
    fake.jobs.jobs_with_figures = 1011

    page = open_at("records/history?receiver=skerry-7")

    expect(page.get_by_text("16 figures of 1 of 1011 jobs, spread evenly from the first to the last.")).to_be_visible()
    page.locator("#history-since").fill("2020-01-01")
    page.locator("#history-until").fill("2020-12-31")
    expect(page).to_have_url(f"{fake.address}#/records/history?receiver=skerry-7&since=2020-01-01&until=2020-12-31")


def test_another_receiver_has_another_history(open_at: OpenAt, fake: Fake) -> None:
    """The address follows the choice, so that it can be kept."""
    job_on_its_way(fake.jobs)
    page = open_at("records/history?receiver=skerry-7&serial=0412")
    chosen = page.locator("#history-receiver")
    expect(chosen).to_have_value("skerry-7")

    chosen.select_option("Millrace 5")

    expect(page).to_have_url(f"{fake.address}#/records/history?receiver=millrace-5")
    expect(page.get_by_text("Nothing measured yet.")).to_be_visible()


def test_kept_scans_are_listed_and_opened(open_at: OpenAt, fake: Fake) -> None:
    """With figures, ending and files."""
    job_on_its_way(fake.jobs)
    scan = fake.jobs.add_run(1, "beat-oscillator", "as found", 23.7)
    scan.update(job_id=None, target_name="60 kHz passband, 2 kHz", result=scan["curves"][0]["figures"])
    page = open_at("records/scans")

    expect(page.locator(".record")).to_have_count(1)
    expect(page.locator(".record")).to_contain_text("60.0237 ± 0.0086 kHz, 2.021 kHz wide")
    page.get_by_role("link", name="60 kHz passband, 2 kHz", exact=True).click()

    expect(page.locator("#view-subtitle")).to_contain_text("scan 3,")


def test_the_bench_tells_each_instrument_its_health_and_the_output(open_at: OpenAt, fake: Fake) -> None:
    """Identity, address, what is wrong, and the last error."""
    meter = fake.bench.instruments[1]
    meter.update(state="lost", detail="no answer within 2 s")
    fake.bench.last_error = "The meter did not answer within 2 s."

    page = open_at("bench")

    card = page.get_by_role("article", name="Meter")
    for part in (meter["identity"], meter["address"], "lost", "no answer within 2 s"):
        expect(card).to_contain_text(part)
    state = page.get_by_role("region", name="State")
    expect(state).to_contain_text("Output is off")
    expect(state).to_contain_text("The meter did not answer within 2 s.")
    page.get_by_role("button", name="Look for instruments again").click()
    expect(card).to_contain_text("ready")


def test_the_bench_is_taken_over_from_its_page(open_at: OpenAt, fake: Fake) -> None:
    """And says who operates."""
    fake.bench.holder = "somebody else"
    page = open_at("bench")
    operator = page.get_by_role("region", name="Who operates")
    expect(operator).to_contain_text("Another page operates the bench.")

    operator.get_by_role("button", name="Take over").click()

    expect(operator).to_contain_text("This page operates the bench.")
