"""Data loggers' files: every dialect reads back the same, trouble names its line, and nothing ever crashes."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from foundation.refusal import Refusal
from process.rules import log_cells, log_guess, logs

ZONE = ZoneInfo("America/Chicago")
BERLIN = ZoneInfo("Europe/Berlin")
STARTED = datetime(2026, 3, 13, 18, 30, tzinfo=ZONE)


def read(text: str, near: date | None = date(2026, 3, 13), zone: ZoneInfo = ZONE, **changed) -> logs.Log:
    reading = log_guess.guess(text, near).reading
    if changed:
        reading = logs.Reading.from_json(reading.as_json() | changed)
    return logs.read(text, reading, zone, STARTED)


def points(log: logs.Log, sensor: int = 0) -> list[tuple[float, float]]:
    return [(round(at, 4), degree) for at, degree in log.tracks[sensor].points]


# ---- Dialects

DATES = {
    "iso": "%Y-%m-%d",
    "german": "%d.%m.%Y",
    "short": "%d.%m.%y",
    "american": "%m/%d/%Y",
    "american short": "%m/%d/%y",
    "british": "%d/%m/%Y",
    "dashes": "%d-%m-%Y",
    "named": "%d-%b-%Y",
    "slashes": "%Y/%m/%d",
}
CLOCKS = {"full": "%H:%M:%S", "short": "%H:%M", "half": "%I:%M:%S %p"}


@st.composite
def dialects(draw):  # noqa: ANN001, ANN201
    """A file as some logger could write it, with what it says."""
    delimiter = draw(st.sampled_from([",", ";", "\t", "|", " "]))
    decimal = draw(st.sampled_from([".", ","]))
    kind = draw(st.sampled_from(["clock", "split", "iso T", "seconds", "minutes", "hms"]))
    clock = CLOCKS[draw(st.sampled_from(sorted(CLOCKS)))]
    if delimiter == " ":
        clock = CLOCKS["full"]
    day = DATES[draw(st.sampled_from(sorted(DATES)))]
    sensors = draw(st.integers(1, 4))
    unit = draw(st.sampled_from(["C", "F"]))
    step = draw(st.sampled_from([60, 120, 600]))
    count = draw(st.integers(3, 30))
    start = datetime(2026, 3, draw(st.integers(13, 20)), draw(st.integers(3, 23)), draw(st.integers(0, 59)))  # noqa: DTZ001
    temps = [
        [draw(st.integers(150, 1500)) / 10 if draw(st.integers(0, 9)) else None for _ in range(sensors)]
        for _ in range(count)
    ]
    for row in (0, 1, -1):
        temps[row] = [21.5 + row / 10 + sensor for sensor in range(sensors)]
    nothing = draw(st.sampled_from(["---", "NaN", "n/a"] + ([""] if delimiter != " " else [])))
    quote = '"' if delimiter == "," and decimal == "," else ""

    def cell(value: float | None) -> str:
        text = nothing if value is None else f"{value:.1f}".replace(".", decimal)
        return f"{quote}{text}{quote}"

    lines = []
    for at, row in enumerate(temps):
        wall = start + timedelta(seconds=step * at)
        if kind == "clock":
            stamp = [wall.strftime(f"{day} {clock}")]
        elif kind == "split":
            stamp = [wall.strftime(day), wall.strftime(clock)]
        elif kind == "iso T":
            stamp = [wall.strftime("%Y-%m-%dT%H:%M:%S")]
        elif kind == "seconds":
            stamp = [f"{step * at}"]
        elif kind == "minutes":
            stamp = [cell(step * at / 60)]
        else:
            stamp = [f"{step * at // 3600}:{step * at % 3600 // 60:02}:{step * at % 60:02}"]
        lines.append(delimiter.join([*stamp, *map(cell, row)]))
    names = {"clock": ["Time"], "split": ["Date", "Time"], "iso T": ["Timestamp"], "seconds": ["Elapsed s"]}
    names |= {"minutes": ["Elapsed min"], "hms": ["Elapsed"]}
    joined = "_" if delimiter == " " else " "
    head = [name.replace(" ", joined) for name in names[kind]]
    header = delimiter.join([*head, *(f"TC{joined}{n + 1}{joined}(°{unit})" for n in range(sensors))])
    above = ["Logger 7, shop oven", "Serial: 00417", ""] if draw(st.booleans()) else []
    below = ["", "End of log"] if draw(st.booleans()) else []
    ending = draw(st.sampled_from(["\n", "\r\n", "\r"]))
    text = ending.join([*above, header, *lines, *below]) + ending
    encoding = draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "latin-1", "utf-16-le"]))
    return text.encode(encoding), temps, step, kind, start, unit


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(dialects())
def test_a_log_reads_back_the_same_in_any_dialect(made) -> None:  # noqa: ANN001
    data, temps, step, kind, start, unit = made
    text = log_cells.decode(data)
    guess = log_guess.guess(text, start.date())
    log = logs.read(text, guess.reading, ZONE, STARTED)
    assert log.unit == unit
    assert len(log.tracks) == len(temps[0])
    for sensor, track in enumerate(log.tracks):
        expected = [(at * step / 60, row[sensor]) for at, row in enumerate(temps) if row[sensor] is not None]
        got = [(round(minute, 6), degree) for minute, degree in track.points]
        assert got == [(round(minute, 6), degree) for minute, degree in expected]
    if kind in ("clock", "split", "iso T"):
        assert log.starts == start.replace(tzinfo=ZONE)
    else:
        assert log.starts == STARTED


@settings(max_examples=200, deadline=None)
@given(st.binary(max_size=400))
@example(b"\xff\xfe\x00")
@example(b'a;"b\n1:00;2')
def test_bytes_never_crash_it(data: bytes) -> None:
    try:
        text = log_cells.decode(data)
        logs.read(text, log_guess.guess(text).reading, ZONE, STARTED)
    except Refusal as no:
        assert no.message


CELLS = st.sampled_from(
    [
        "2026-03-13 18:40",
        "13.03.2026",
        "18:40:00",
        "25:61",
        "21,5",
        "21.5",
        "-",
        "NaN",
        "1e308",
        "x",
        '"',
        "",
        "99/99/99",
    ]
    + ["0000-01-01 00:00", "9999-12-31 23:59", "1e999", "12", "31.12.9999 23:59:59", "0", "2026-03-13T18:40:00+99:99"]
)


@settings(max_examples=300, deadline=None)
@given(
    st.lists(st.lists(CELLS, min_size=1, max_size=5), min_size=1, max_size=12), st.sampled_from([",", ";", "\t", " "])
)
def test_rows_of_odd_cells_never_crash_it(rows: list[list[str]], delimiter: str) -> None:
    text = "\n".join(delimiter.join(row) for row in rows)
    try:
        logs.read(text, log_guess.guess(text, date(2026, 3, 13)).reading, BERLIN, STARTED)
    except Refusal as no:
        assert no.message


# ---- What a file leaves open


def test_the_order_of_the_date_is_what_the_days_allow() -> None:
    text = "Time;T (°C)\n13/04/2026 10:00;20,0\n13/04/2026 10:10;21,0\n"
    assert log_guess.guess(text).reading.order == "dmy"
    text = "Time;T (°C)\n04/13/2026 10:00;20,0\n04/13/2026 10:10;21,0\n"
    assert log_guess.guess(text).reading.order == "mdy"


def test_days_in_a_row_tell_the_order() -> None:
    text = "Time,T C\n03/04/2026 23:50,20.0\n03/05/2026 00:10,21.0\n"
    assert log_guess.guess(text).reading.order == "mdy"


def test_the_day_of_the_cure_decides_what_the_file_leaves_open() -> None:
    text = "Time,T (C)\n03/04/2026 10:00,20.0\n03/04/2026 10:10,21.0\n"
    assert log_guess.guess(text, date(2026, 4, 3)).reading.order == "dmy"
    assert log_guess.guess(text, date(2026, 3, 4)).reading.order == "mdy"
    assert log_guess.guess(text, date(2026, 3, 4)).questions == ()
    assert any("order of the date" in one for one in log_guess.guess(text).questions)


def test_a_unit_that_is_not_said_is_asked_for() -> None:
    assert any(
        "°C or °F" in one for one in log_guess.guess("Time,T\n2026-03-13 10:00,20\n2026-03-13 10:10,21\n").questions
    )


def test_cells_may_carry_their_unit() -> None:
    log = read("Time,Oven\n2026-03-13 10:00,70.5 °F\n2026-03-13 10:10,71.5 °F\n")
    assert log.unit == "F"
    assert points(log) == [(0, 70.5), (10, 71.5)]


def test_a_counter_and_humidity_are_no_temperatures() -> None:
    log = read(
        "No.,Time,T1 (°C),RH %\n1,2026-03-13 10:00,20.1,48\n2,2026-03-13 10:10,20.5,47\n3,2026-03-13 10:20,21,47\n"
    )
    assert [track.name for track in log.tracks] == ["T1"]


def test_a_mapping_survives_being_kept() -> None:
    reading = log_guess.guess("Time,T1 (°C)\n2026-03-13 10:00,20.1\n2026-03-13 10:10,20.5\n").reading
    assert logs.Reading.from_json(reading.as_json()) == reading


def test_fast_loggers_have_their_ramps_measured_over_minutes() -> None:
    rows = "\n".join(f"2026-03-13 10:00:{second:02},20.{second % 2}" for second in range(30))
    assert log_guess.guess(f"Time,T (C)\n{rows}").reading.ramp_over == 5
    assert log_guess.guess("Time,T (C)\n2026-03-13 10:00,20.1\n2026-03-13 10:10,20.5\n").reading.ramp_over == 0


# ---- Trouble names its line


def refused(text: str, **changed) -> str:  # noqa: ANN003
    with pytest.raises(Refusal) as no:
        read(text, **changed)
    return no.value.message


def test_a_word_among_temperatures_names_its_line_and_column() -> None:
    text = "Time,T (C)\n2026-03-13 10:00,20\n2026-03-13 10:10,warm\n2026-03-13 10:20,21\n"
    assert "Line 3: “warm” in column 2 is no temperature" in refused(text)


def test_a_time_that_cannot_be_read_names_its_line() -> None:
    text = "Time,T (C)\n2026-03-13 10:00,20\n2026-03-13 25:10,20.5\n2026-03-13 10:20,21\n"
    assert "Line 3: “2026-03-13 25:10” is no time" in refused(text)


def test_time_that_goes_back_names_its_line_and_both_times() -> None:
    text = "Time,T (C)\n2026-03-13 10:00,20\n2026-03-13 10:50,20.5\n2026-03-13 10:10,21\n2026-03-13 10:20,21\n"
    message = refused(text)
    assert "Line 4: the time goes back from 10:50:00 to 10:10:00" in message
    assert "file of its own" in message


def test_a_file_without_figures_says_what_it_needs() -> None:
    assert "one line for each reading" in refused("Dear builder\nthe oven was warm\n")


def test_a_picture_is_no_log() -> None:
    with pytest.raises(Refusal, match="not a text file"):
        log_cells.decode(b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR" + b"\x00\x01\x02" * 100)


# ---- What was done to the readings is told


def test_words_between_and_figures_below_are_told() -> None:
    text = "Time,T (C)\n2026-03-13 10:00,20\nlogger restarted\n2026-03-13 10:10,21\nMaximum,21\n"
    log = read(text)
    assert points(log) == [(0, 20), (10, 21)]
    assert any("Line 3 between the readings has words only" in note for note in log.notes)
    assert any("Line 5 below the readings is left out" in note for note in log.notes)


def test_an_open_sensor_is_left_out_and_told() -> None:
    log = read("Time,A (C),B (C)\n2026-03-13 10:00,20,1372\n2026-03-13 10:10,21,22\n2026-03-13 10:20,22,23\n")
    assert points(log, 1) == [(10, 22), (20, 23)]
    assert any("no shop reaches" in note for note in log.notes)


def test_a_gap_is_told_with_its_times() -> None:
    log = read("Time,A (C)\n2026-03-13 10:00,20\n2026-03-13 10:10,\n2026-03-13 10:20,\n2026-03-13 10:30,22\n")
    assert any("2 readings missing; the longest gap, 30 min, is from 10:00 to 10:30" in note for note in log.notes)


def test_newest_first_is_turned_round() -> None:
    log = read("Time,A (C)\n2026-03-13 10:20,22\n2026-03-13 10:10,21\n2026-03-13 10:00,20\n")
    assert points(log) == [(0, 20), (10, 21), (20, 22)]
    assert any("turned round" in note for note in log.notes)


def test_doubled_readings_count_once_and_others_are_spread() -> None:
    log = read("Time,A (C)\n2026-03-13 10:00,20\n2026-03-13 10:00,20\n2026-03-13 10:01,21\n2026-03-13 10:01,22\n")
    assert points(log) == [(0, 20), (1, 21), (1.5, 22)]
    assert any("twice and counted once" in note for note in log.notes)
    assert any("spread evenly over that minute" in note for note in log.notes)


def test_times_of_day_go_past_midnight() -> None:
    log = read("Clock;Oven °C\n18:40:00;20,0\n23:50:00;60,0\n00:30:00;59,0\n")
    assert points(log) == [(0, 20), (310, 60), (350, 59)]
    assert log.starts == datetime(2026, 3, 13, 18, 40, tzinfo=ZONE)
    assert any("past midnight" in note for note in log.notes)


def test_times_that_state_their_offset_need_no_zone() -> None:
    log = read("Time,T (C)\n2026-03-13T18:40:00Z,20\n2026-03-13T18:50:00Z,21\n")
    assert log.starts == datetime(2026, 3, 13, 18, 40, tzinfo=UTC)


# ---- The night the clocks change


def night(zone: ZoneInfo, start: datetime, hours: int, *, follows: bool) -> str:
    """A log every ten minutes of real time, by a clock that follows the change or does not."""
    lines = []
    for step in range(hours * 6 + 1):
        instant = start + timedelta(minutes=10 * step)
        local = instant.astimezone(zone) if follows else instant.astimezone(zone if step == 0 else zone)
        if not follows:
            local = start.astimezone(zone).replace(tzinfo=None) + timedelta(minutes=10 * step)
        lines.append(f"{local:%Y-%m-%d %H:%M},{20 + step / 10:.1f}")
    return "Time,T (C)\n" + "\n".join(lines) + "\n"


@pytest.mark.parametrize(
    "start",
    [datetime(2026, 10, 24, 22, 0, tzinfo=UTC), datetime(2026, 3, 28, 22, 0, tzinfo=UTC)],
    ids=["back", "forward"],
)
@pytest.mark.parametrize("follows", [True, False])
@pytest.mark.parametrize("hours", [3, 6])
def test_a_night_of_changing_clocks_keeps_its_length(start: datetime, follows: bool, hours: int) -> None:
    text = night(BERLIN, start, hours, follows=follows)
    log = logs.read(text, log_guess.guess(text, start.date()).reading, BERLIN, start)
    assert log.starts == start
    assert points(log) == [(10 * step, 20 + step / 10) for step in range(hours * 6 + 1)]
    if hours == 6:
        assert any("clock" in note for note in log.notes)


def test_seven_days_of_eight_sensors_are_read_in_seconds() -> None:
    """A log at 1 Hz: here a twentieth of it, so that the test stays quick; `bench cure` measures the whole."""
    start = datetime(2026, 3, 13)  # noqa: DTZ001
    rows = [
        f"{start + timedelta(seconds=second):%Y-%m-%d %H:%M:%S},"
        + ",".join(f"{20 + second % 7 / 10}" for _ in range(8))
        for second in range(30_000)
    ]
    log = read("Time," + ",".join(f"T{n} (C)" for n in range(8)) + "\n" + "\n".join(rows))
    assert len(log.tracks) == 8
    assert all(len(track) == 30_000 for track in log.tracks)
