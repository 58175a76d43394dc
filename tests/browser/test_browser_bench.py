"""The bench in a real browser: what a person does, and what must then be seen."""

from __future__ import annotations

import itertools
import json
import re
import subprocess
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from labrum.cases.exploring.tables import case_from_page
from labrum.cases.library.shelf import demo_place, demo_text, library_load, lip_names, load_names

SOLVED = "body:not([data-asking]) #chip[data-state=solved]"


def knob(page: Any, key: str, kind: str = "number") -> Any:
    return page.locator(f'[data-key="{key}"][type={kind}]')


def turn(page: Any, key: str, value: float) -> None:
    """Move a slider as a hand does: set it and say so."""
    script = """(slider, value) => {
        slider.value = Knobs.positionOf(slider.dataset.key, value);
        slider.dispatchEvent(new Event('input', { bubbles: true }));
    }"""
    knob(page, key, "range").evaluate(script, value)


def number(page: Any, measure: str, column: int = -1) -> str:
    return str(page.locator(f'#numbers td[data-measure="{measure}"]').nth(column).inner_text())


def value(page: Any, measure: str) -> float:
    """The live number, its error left out."""
    return float(number(page, measure).removeprefix("≈ ").split()[0])


def solved(page: Any) -> None:
    page.wait_for_selector(SOLVED)


def test_a_slider_moves_the_numbers_to_what_the_command_finds(
    address: str, visit: Callable[..., Any], tmp_path: Path
) -> None:
    page = visit(address).page
    solved(page)
    before = number(page, "peak_pressure_kpa")
    turn(page, "rim.bite_radius_mm", 0.4)
    solved(page)
    after = number(page, "peak_pressure_kpa")
    assert after != before
    place = tmp_path / "case.toml"
    with page.expect_download() as download:
        page.click("#save")
    download.value.save_as(place)
    done = subprocess.run(
        [sys.executable, "-m", "labrum.cases.command", "solve", str(place), "--json", "-q"],
        capture_output=True, text=True, check=True, cwd=Path(__file__).parents[2],
    )  # fmt: skip
    result = json.loads(done.stdout)
    # The page began at a like case, the command at rest: they agree within the estimated errors, and the writing's.
    error = 0.02 * result["peak_pressure_error_percent"]
    assert value(page, "peak_pressure_kpa") == pytest.approx(result["peak_pressure_kpa"], rel=error)
    for measure in ("bearing_area_mm2", "felt_diameter_mm", "sink_mm", "intrusion_volume_mm3"):
        assert value(page, measure) == pytest.approx(result[measure], rel=3e-3), measure


def test_a_pinned_rim_stays_beside_the_live_one(address: str, visit: Callable[..., Any]) -> None:
    page = visit(address).page
    solved(page)
    pinned = number(page, "peak_pressure_kpa")
    page.click("#pin")
    turn(page, "rim.bite_radius_mm", 0.4)
    solved(page)
    assert number(page, "peak_pressure_kpa", 0) == pinned
    assert "▲" in number(page, "peak_pressure_kpa", 1)
    assert page.locator("[data-measure=peak_pressure_kpa] .mark.worse").count() == 1  # by the side, not the sign
    assert page.locator(".pin svg[role=img]").count() == 1
    assert page.locator("#pressure path[stroke-dasharray='5 2']").count() == 1
    page.click("text=Back to the knobs")
    assert knob(page, "rim.bite_radius_mm").input_value() == "0.6"
    page.click("text=Unpin")
    assert page.locator(".pin").count() == 0


def test_values_that_do_not_fit_are_told_at_the_knob(address: str, visit: Callable[..., Any]) -> None:
    page = visit(address).page
    solved(page)
    before = number(page, "peak_pressure_kpa")
    knob(page, "rim.shoulder_radius_mm").fill("4.5")
    page.wait_for_selector("#chip[data-state=faulty]")
    assert "shoulder: got 4.5, allowed at most 2.86 mm" in page.inner_text("#faults")
    assert knob(page, "rim.shoulder_radius_mm").get_attribute("aria-invalid") == "true"
    assert number(page, "peak_pressure_kpa") == before  # the last picture stays, and says that it is the last
    assert "The last one that has a result: Demo" in page.inner_text("#of-old")
    assert page.locator("#section path").count() > 5
    assert page.locator("#pin").is_disabled()
    knob(page, "rim.shoulder_radius_mm").fill("1.8")
    solved(page)
    assert page.inner_text("#of-old") == ""
    assert page.inner_text("#faults") == ""


def test_a_bad_file_is_told_by_line_and_the_rim_stays(address: str, visit: Callable[..., Any]) -> None:
    page = visit(address).page
    solved(page)
    before = number(page, "peak_pressure_kpa")
    bad = demo_text("demo").replace("width_mm", "widht_mm").replace("force_n = 20.0", "force_n = <b>")
    page.set_input_files("#open", {"name": "b<i>d.toml", "mimeType": "text/plain", "buffer": bad.encode()})
    page.wait_for_selector("#faults li")
    assert "b<i>d.toml, line" in page.inner_text("#faults")
    worse = demo_text("demo").replace("width_mm", "widht_mm")
    page.set_input_files("#open", {"name": "worse.toml", "mimeType": "text/plain", "buffer": worse.encode()})
    page.wait_for_selector("text=worse.toml, line 7")
    assert "did you mean width_mm?" in page.inner_text("#faults")
    assert number(page, "peak_pressure_kpa") == before
    page.set_input_files("#open", {"name": "raw.toml", "mimeType": "text/plain", "buffer": b"\xff\x00= ="})
    page.wait_for_selector("text=raw.toml, line 1")


def test_titles_are_words_wherever_they_stand(address: str, visit: Callable[..., Any]) -> None:
    page = visit(address).page
    solved(page)
    hostile = "</script><img src=x onerror=alert(1)>"
    page.fill("#case-title", hostile)
    page.press("#case-title", "Tab")
    solved(page)
    page.click("#pin")
    assert hostile in page.inner_text(".pin h3")
    assert page.locator("img").count() == 0


def test_a_trace_becomes_the_rim(address: str, visit: Callable[..., Any]) -> None:
    page = visit(address).page
    solved(page)
    page.set_input_files("#trace", str(demo_place() / "demo-trace.csv"))
    page.wait_for_selector("text=Drawn by an outline")
    assert knob(page, "rim.width_mm").is_disabled()
    page.click("text=Use dimensions instead")
    assert knob(page, "rim.width_mm").is_enabled()
    page.set_input_files("#trace", {"name": "no.csv", "mimeType": "text/csv", "buffer": b"a,b\n1,2\n"})
    page.wait_for_selector("#faults li")


def test_a_quick_hand_leaves_one_solve_and_the_last_value(address: str, visit: Callable[..., Any]) -> None:
    page = visit(address).page
    solved(page)
    before = value(page, "mean_pressure_kpa")
    for step in range(30):
        turn(page, "load.force_n", 10.0 + 0.5 * step)
        page.wait_for_timeout(15)
    assert knob(page, "load.force_n").input_value() == "24.5"
    turn(page, "load.force_n", 20.0)
    solved(page)
    assert value(page, "mean_pressure_kpa") == pytest.approx(before, rel=1e-3)


def test_the_first_equilibrium_is_near_the_solution_and_its_numbers_say_that_they_are_not_checked(
    address: str, visit: Callable[..., Any]
) -> None:
    page = visit(address).page
    solved(page)
    page.evaluate("""() => {
        const watched = [];
        window.watched = watched;
        new MutationObserver(() => {
            const cell = document.querySelector('#numbers td[data-measure=bearing_area_mm2]:last-child');
            if (cell) watched.push([document.getElementById('chip').dataset.state, cell.textContent]);
        }).observe(document.getElementById('numbers'), { childList: true, subtree: true });
    }""")
    turn(page, "rim.outer_crown_radius_mm", 9.3)
    solved(page)
    seen = page.evaluate("window.watched")
    first = next(text for state, text in seen if state == "pressed")
    assert first.startswith("≈ ")
    assert value(page, "bearing_area_mm2") == pytest.approx(float(first.split()[1]), rel=0.02)


def test_the_four_questions_are_answered_in_words_with_the_number(address: str, visit: Callable[..., Any]) -> None:
    page = visit(address).page
    solved(page)
    told = page.inner_text("#answered")
    for question in ("Does it float", "Does it cut", "Does it pin", "Does it fall into the cup"):
        assert question in told
    assert f"peak {value(page, 'peak_pressure_kpa'):.1f} kPa ±" in told
    knob(page, "load.muscle_activation").fill("0.3")
    solved(page)
    assert f"{value(page, 'closing_travel_ratio'):.2f} of its way" in page.inner_text("#answered")


def test_a_title_is_made_of_what_is_set_and_a_pin_says_what_differs(address: str, visit: Callable[..., Any]) -> None:
    page = visit(address).page
    solved(page)
    assert page.input_value("#case-title").startswith("Demo (invented)")
    turn(page, "rim.bite_radius_mm", 0.3)
    solved(page)
    assert page.input_value("#case-title") == "16.5 × 5.2 mm rim, bite 0.3 mm, average lip, 20 N"
    page.click("#pin")
    turn(page, "rim.width_mm", 6.0)
    solved(page)
    heads = page.locator("#numbers thead small").all_inner_texts()
    assert heads == ["width 5.2", "width 6"]
    assert "bite 0.3 mm" in page.inner_text(".pin h3")


def test_the_picture_stays_still_while_words_change(address: str, visit: Callable[..., Any]) -> None:
    page = visit(address).page
    solved(page)
    where = """() => ['section', 'rim-knobs'].map(
        id => Object.values(document.getElementById(id).getBoundingClientRect().toJSON()))"""
    before = page.evaluate(where)
    for key, value in (("rim.bite_radius_mm", 0.15), ("load.force_n", 35.0), ("rim.shoulder_radius_mm", 3.9)):
        knob(page, key).fill(str(value))
        page.wait_for_timeout(150)
        assert page.evaluate(where) == before
    page.wait_for_selector("body:not([data-asking])")
    assert page.evaluate(where) == before


def test_every_knob_is_in_sight_without_a_scroller(address: str, visit: Callable[..., Any]) -> None:
    page = visit(address, 1440, 900).page
    solved(page)
    sliders = "[...document.querySelectorAll('[data-slider]')]"
    bottoms = page.evaluate(f"{sliders}.map(s => s.getBoundingClientRect().bottom)")
    assert len(bottoms) == 16
    assert max(bottoms) < 900
    inner = "(e => e.scrollHeight - e.clientHeight)(document.getElementById('knobs'))"
    assert page.evaluate(inner) <= 0


def test_a_slider_is_fine_about_the_value_it_began_with(address: str, visit: Callable[..., Any]) -> None:
    page = visit(address).page
    solved(page)
    gap = page.evaluate("() => [16.5, 16.6, 33.8, 33.9].map(v => Knobs.positionOf('rim.inner_diameter_mm', v))")
    assert gap[1] - gap[0] > 3 * (gap[3] - gap[2])
    slider = knob(page, "rim.inner_diameter_mm", "range")
    slider.focus()
    page.keyboard.press("Shift+ArrowRight")
    assert knob(page, "rim.inner_diameter_mm").input_value() == "16.51"


def test_a_meaning_is_one_tap_away(address: str, visit: Callable[..., Any]) -> None:
    page = visit(address, 390, 844).page
    solved(page)
    page.click("#rim-knobs .name >> text=Bite radius")
    assert "of the inner edge" in page.inner_text("#rim-knobs .meaning:not([hidden])")
    page.click("#numbers .name >> text=bearing area")
    assert page.locator("#numbers tr.meaning:not([hidden])").count() == 1


def test_own_layers_are_edited(address: str, visit: Callable[..., Any]) -> None:
    page = visit(address).page
    solved(page)
    before = number(page, "sink_mm")
    page.click("#edit-layers")
    page.wait_for_selector("#layer-table tbody tr")
    count = page.locator("#layer-table tbody tr").count()
    page.fill("#layer-table tbody tr:nth-child(1) [data-key$='shear_modulus_kpa']", "200")
    solved(page)
    assert number(page, "sink_mm") != before
    page.click("#add-layer")
    solved(page)
    assert page.locator("#layer-table tbody tr").count() == count + 1
    page.locator("#layer-table tbody tr").last.get_by_text("Remove").click()
    solved(page)
    with page.expect_download() as download:
        page.click("#save")
    assert Path(download.value.path()).read_text().count("[[lip.layer]]") == count
    assert "a lip of its own" in page.input_value("#case-title")


def test_what_is_asked_off_the_axis_is_kept_and_answered(address: str, visit: Callable[..., Any]) -> None:
    page = visit(address).page
    solved(page)
    text = demo_text("demo") + "\n[off_axis]\ntilt_deg = 1.5\n"
    page.set_input_files("#open", {"name": "askew.toml", "mimeType": "text/plain", "buffer": text.encode()})
    page.wait_for_selector("#ask-off-axis:checked")
    solved(page)
    assert value(page, "tilted_peak_kpa") > value(page, "peak_pressure_kpa")
    with page.expect_download() as download:
        page.click("#save")
    assert "tilt_deg = 1.5" in Path(download.value.path()).read_text()
    page.click("#ask-off-axis")
    solved(page)
    assert page.locator("#numbers td[data-measure=tilted_peak_kpa]").is_hidden()


@pytest.mark.parametrize(
    ("question", "expected"),
    [
        ("How wide is wide enough?", "mm is too narrow for this lip under this force"),
        ("How does it read?", "The conventions read this rim up to"),
        ("What do tolerances do?", "matters most"),
        ("Files to cut it", "outline.dxf"),
    ],
)
def test_questions_asked_further_are_answered(
    address: str, visit: Callable[..., Any], question: str, expected: str
) -> None:
    page = visit(address).page
    solved(page)
    page.click(f"#asks button >> text={question}")
    page.wait_for_selector("#ask-answer .lead")
    assert expected in page.inner_text("#ask-answer")
    if "cut" in question:
        with page.expect_download() as download:
            page.click("#ask-answer >> text=Keep rim-to-cut.zip")
        assert download.value.suggested_filename == "rim-to-cut.zip"


def test_a_trace_is_gauged(address: str, visit: Callable[..., Any]) -> None:
    page = visit(address).page
    solved(page)
    page.set_input_files("#gauge-trace", str(demo_place() / "demo-trace.csv"))
    page.wait_for_selector("#ask-answer table >> nth=1")
    assert "twice the standard uncertainty" in page.inner_text("#ask-answer")
    page.set_input_files("#gauge-trace", {"name": "no.csv", "mimeType": "text/csv", "buffer": b"a,b\n1,2\n"})
    page.wait_for_selector("text=No answer: no.csv")


def test_a_solve_can_be_cancelled_and_the_page_answers_meanwhile(address: str, visit: Callable[..., Any]) -> None:
    page = visit(address).page
    solved(page)
    knob(page, "load.friction").fill("0.33")  # long enough to be cancelled
    page.wait_for_selector("#progress:not([hidden])")
    page.wait_for_selector("#doing:not(:empty)")
    assert page.evaluate("new Promise(done => setTimeout(() => done('awake'), 0))") == "awake"
    page.keyboard.press("Escape")
    page.wait_for_selector("#chip[data-state=waiting]")
    assert page.locator("#cancel").is_hidden()
    knob(page, "load.friction").fill("0")
    solved(page)


def test_a_reload_in_the_middle_of_a_solve_goes_on(address: str, visit: Callable[..., Any]) -> None:
    page = visit(address).page
    solved(page)
    page.click("#pin")
    knob(page, "rim.width_mm").fill("5.4")
    page.wait_for_selector("#doing:not(:empty)")
    page.reload()
    assert knob(page, "rim.width_mm").input_value() == "5.4"
    assert page.locator(".pin").count() == 1
    solved(page)


def test_two_tabs_do_not_disturb_each_other(address: str, visit: Callable[..., Any], browser: Any) -> None:
    window = browser.new_context()
    one, other = visit(address, context=window).page, visit(address, context=window).page
    for page in (one, other):
        solved(page)
    knob(one, "load.force_n").fill("8")
    knob(other, "load.force_n").fill("12")
    for page in (one, other):
        solved(page)
    carried = []
    for page in (one, other):
        mean, area = (value(page, measure) for measure in ("mean_pressure_kpa", "contact_area_mm2"))
        carried.append(mean * area / 1e3)
    assert carried == pytest.approx([8.0, 12.0], rel=2e-3)


def test_the_report_is_handed_over(address: str, visit: Callable[..., Any], tmp_path: Path) -> None:
    page = visit(address).page
    solved(page)
    page.uncheck("#thorough")
    with page.expect_download() as download:
        page.click("#report")
    place = tmp_path / "report.html"
    download.value.save_as(place)
    assert download.value.suggested_filename == "demo-invented-16-5-mm-rim-on-an-average-lip-20-n-report.html"
    report = visit(place.as_uri()).page
    assert report.locator("h1").inner_text() == "Demo (invented): 16.5 mm rim on an average lip, 20 N"
    assert "Not examined in this report" in report.inner_text("#sure")


def test_everything_can_be_reached_by_keyboard(address: str, visit: Callable[..., Any]) -> None:
    page = visit(address).page
    solved(page)
    reached: set[str] = set()
    for _ in range(160):
        page.keyboard.press("Tab")
        reached.add(page.evaluate("document.activeElement.id || document.activeElement.dataset.key"))
    assert {"open", "trace", "save", "case-title", "lip-type", "load-preset", "load.force_n"} <= reached
    assert {"pin", "report"} <= reached
    slider = knob(page, "load.force_n", "range")
    slider.focus()
    page.keyboard.press("ArrowRight")
    assert knob(page, "load.force_n").input_value() == "20.5"


def test_nobody_but_this_page_may_open_a_line(address: str, browser: Any) -> None:
    """A page from elsewhere has another origin; the browser tells it, and the server hangs up."""
    page = browser.new_page()
    page.goto("data:text/html,<p>elsewhere")
    line = address.replace("http", "ws") + "talk"
    script = """line => new Promise(done => {
        const tried = new WebSocket(line);
        tried.onopen = () => done("open");
        tried.onclose = () => done("closed");
    })"""
    ended = page.evaluate(script, line)
    page.close()
    assert ended == "closed"


def test_the_pressure_on_the_metal_has_the_figures_colours(address: str, visit: Callable[..., Any]) -> None:
    from matplotlib import colormaps
    from matplotlib.colors import to_rgb

    from labrum.reports.house_style.style import SEQUENTIAL

    page = visit(address).page
    solved(page)
    assert "pressure on the rim, 0 to 100 kPa" in page.inner_text("#scale")
    shown = page.evaluate("getComputedStyle(document.querySelector('.swatch.bar')).backgroundImage")
    colours = [tuple(int(c) for c in m) for m in re.findall(r"rgb\((\d+), (\d+), (\d+)\)", shown)]
    expected = [tuple(round(255 * c) for c in to_rgb(colormaps[SEQUENTIAL](k / 8))) for k in range(9)]
    assert colours == expected
    rim_bottom = page.evaluate("document.querySelector('#section .pressed').getBBox().y")
    assert rim_bottom > 0.0
    assert page.locator("#section .pressed path").count() > 20


def test_a_player_s_sheet_shows_its_faults_at_their_fields_and_its_lip_is_laid_on_the_bench(
    address: str, visit: Callable[..., Any], tmp_path: Path
) -> None:
    page = visit(address).page
    solved(page)
    page.click("#sheet-box summary")
    page.fill('[data-sheet="alias"]', "Curlew (invented)")
    page.click("#add-press")
    page.fill('[data-sheet="press[0].force_n"]', "10")
    page.fill('[data-sheet="press[0].sink_mm"]', "40")
    page.click("#ask-lip")
    page.wait_for_selector('[data-sheet="press[0].sink_mm"][aria-invalid]')
    assert "0.05 to 25 mm" in page.inner_text("#sheet .wrong")
    page.fill('[data-sheet="press[0].sink_mm"]', "1.9")
    page.click("#ask-lip")
    page.wait_for_selector("#ask-answer .lead")
    assert page.locator("#sheet [aria-invalid]").count() == 0
    assert "±" in page.inner_text("#ask-answer .lead")
    with page.expect_download() as download:
        page.click("#save-sheet")
    download.value.save_as(tmp_path / "player.toml")
    assert "sink_mm = 1.9" in (tmp_path / "player.toml").read_text(encoding="utf-8")
    page.click("text=Lay this lip on the bench, held still")
    solved(page)
    assert page.inner_text("#whose").startswith("Curlew (invented)'s lip: ")
    assert page.input_value("#lip-type") == "of its own"
    page.reload()
    solved(page)
    page.click("#sheet-box summary")
    assert page.input_value('[data-sheet="press[0].sink_mm"]') == "1.9"
    page.select_option("#lip-type", "thin")
    solved(page)
    assert page.inner_text("#whose") == ""


def asked_for_three_rims(page: Any) -> None:
    solved(page)
    page.click("#sheet-box summary")
    page.select_option('[data-sheet="present.rim"]', "thin-narrow")
    page.check('#sheet label:has-text("cuts") input')
    page.click("#ask-shortlist")


def test_three_rims_are_not_looked_for_without_a_complaint_and_can_be_given_up(
    address: str, visit: Callable[..., Any]
) -> None:
    page = visit(address).page
    solved(page)
    page.click("#sheet-box summary")
    page.click("#ask-shortlist")
    page.wait_for_selector('[data-sheet="present.rim"][aria-invalid]')
    assert page.locator('[data-sheet="complaints"][aria-invalid]').count() > 0
    page.click("#sheet-box summary")
    asked_for_three_rims(page)
    page.wait_for_selector("#ask-told:has-text('the playing lip')")
    turn(page, "rim.width_mm", 5.35)
    solved(page)  # the bench is not kept waiting
    page.click("#ask-cancel")
    assert "given up" in page.inner_text("#ask-told")
    assert page.locator("#ask-answer .lead").count() == 0


@pytest.mark.slow
def test_a_player_gets_three_rims_and_one_is_handed_over(
    address: str, visit: Callable[..., Any], tmp_path: Path
) -> None:
    page = visit(address).page
    asked_for_three_rims(page)
    page.wait_for_selector("#ask-answer .lead", timeout=600_000)
    assert "Wanted: cuts: peak pressure less by 10 %" in page.inner_text("#ask-answer")
    assert page.locator("#ask-answer table").count() == page.locator("text=/^Hand over the/").count() >= 2
    assert "at soft, " in page.inner_text("#ask-answer")
    with page.expect_download() as download:
        page.click("text=Keep shortlist.zip")
    with zipfile.ZipFile(download.value.path()) as packed:
        assert {"shortlist.json", "present.toml", "boldest.toml"} <= set(packed.namelist())
        packed.extractall(tmp_path / "kept")
    page.click("text=Hand over the boldest rim")
    page.wait_for_selector("text=Keep boldest-rim.zip", timeout=600_000)
    with page.expect_download() as download:
        page.click("text=Keep boldest-rim.zip")
    with zipfile.ZipFile(download.value.path()) as packed:
        assert {"CONTENTS.txt", "page.html", "shop/outline.dxf", "cases/recommended.toml"} <= set(packed.namelist())
        assert packed.read("cases/recommended.toml") == (tmp_path / "kept" / "boldest.toml").read_bytes()
    width = json.loads((tmp_path / "kept" / "shortlist.json").read_text())["rims"][-1]["rim"]["width_mm"]
    page.click("text=Lay the boldest rim on the bench")
    solved(page)
    assert float(knob(page, "rim.width_mm").input_value()) == pytest.approx(width)


def bench_case(page: Any) -> Any:
    """The case on the bench, as the page holds it."""
    return json.loads(page.evaluate("sessionStorage.getItem('labrum-bench')"))["case"]


def test_no_preset_draws_a_remark_on_any_lip_of_the_library(address: str, visit: Callable[..., Any]) -> None:
    page = visit(address).page
    solved(page)
    asked = lip_names(), ["bonded", "sliding"], load_names()
    for lip, backing, preset in itertools.product(*asked):
        for knob_id, choice in (("lip-type", lip), ("lip-backing", backing), ("load-preset", preset)):
            page.select_option(f"#{knob_id}", choice)
        case = bench_case(page)
        assert case_from_page(case).warnings == (), (lip, backing, preset)
        told, breath = library_load(preset).values, case["load"]["mouth_pressure_kpa"]
        assert case["load"]["force_n"] == told["force_n"]
        assert breath == (told["mouth_pressure_kpa"] if backing == "sliding" else 0.0)
        assert page.input_value("#load-preset") == preset
    assert float(knob(page, "load.mouth_pressure_kpa").input_value()) == breath
    solved(page)
    assert page.inner_text("#remarks") == ""


def test_breath_that_is_turned_up_where_it_pushes_on_nothing_is_remarked_on(
    address: str, visit: Callable[..., Any]
) -> None:
    page = visit(address).page
    solved(page)
    knob(page, "load.mouth_pressure_kpa").fill("4")
    page.wait_for_selector("#remarks li")
    assert page.inner_text("#remarks").startswith("mouth pressure: the mouth's pressure has nothing to push on")


def test_what_is_wrong_with_a_file_stays_until_the_next_thing_is_done(address: str, visit: Callable[..., Any]) -> None:
    page = visit(address).page
    solved(page)
    turn(page, "rim.bite_radius_mm", 0.45)
    page.set_input_files("#trace", {"name": "no.csv", "mimeType": "text/csv", "buffer": b"a,b\n1,2\n"})
    page.wait_for_selector("#faults li")
    solved(page)  # the knobs' own answer comes after it
    assert "no.csv" in page.inner_text("#faults")
    turn(page, "rim.bite_radius_mm", 0.5)
    solved(page)
    assert page.inner_text("#faults") == ""


def test_pinned_rims_are_put_in_order_beyond_their_errors(address: str, visit: Callable[..., Any]) -> None:
    page = visit(address).page
    solved(page)
    assert "Try more width" in page.inner_text("#next-step")
    page.click("#pin")
    assert "Cannot be told between pin 1 and live" in page.inner_text("#ranked")
    turn(page, "rim.width_mm", 5.8)
    solved(page)
    cuts, floats = page.locator("#ranked > div").all_inner_texts()[:2]
    assert cuts.splitlines()[:2] == ["Which cuts least?", "live"]
    assert floats.splitlines()[1] == "live"
    assert page.inner_text("#unlike") == ""
    turn(page, "load.force_n", 30.0)
    solved(page)
    assert page.inner_text("#unlike") == "Not the rims alone differ: force too."


def test_the_bench_prints_with_the_names_of_its_numbers(address: str, visit: Callable[..., Any]) -> None:
    page = visit(address).page
    solved(page)
    page.emulate_media(media="print")
    assert page.locator("#numbers th .name").first.is_visible()
    assert page.locator("#knobs .name").first.is_visible()
    assert knob(page, "rim.width_mm").bounding_box()["width"] > 50  # the value can be read
    assert not page.locator("#pin").is_visible()
