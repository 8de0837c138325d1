"""Writers for the layouts of the scenario's exports."""

from datetime import date, datetime

from scenario.days import Shape, attempts, span_of_sleep
from scenario.people import NHS, Someone

CUFF = "adult"


def plain(
    who: Someone,
    shape: Shape,
    start: datetime,
    *,
    serial: str,
    seed: int,
    born: date | None = None,
    number: str | None = None,
) -> bytes:
    """The neutral layout: a block of name,value rows, an empty line, a table."""
    sleep = span_of_sleep(shape, start)
    facts = {
        "identifier_system": NHS,
        "identifier": number or who.number,
        "family_name": who.family,
        "given_name": who.given,
        "birth_date": (born or who.born).isoformat(),
        "sex": who.sex,
        "monitor_model": "Larkmoor day monitor",
        "monitor_serial": serial,
        "cuff_size": CUFF,
        "arm": "left",
        "interval_minutes_day": "30",
        "interval_minutes_night": "60",
        "schedule_day_from": f"{shape.sleep_to:02}:00",
        "schedule_night_from": f"{shape.sleep_from:02}:00",
        "fitted_at": f"{start:%Y-%m-%dT%H:%M}",
        "timezone": "Europe/London",
        "asleep_from": f"{sleep[0]:%Y-%m-%dT%H:%M}",
        "asleep_to": f"{sleep[1]:%Y-%m-%dT%H:%M}",
    }
    lines = [f"{name},{value}" for name, value in facts.items()]
    lines += ["", "time,systolic,diastolic,mean,heart_rate,outcome,kind,note"]
    for each in attempts(shape, start, seed):
        if each.systolic is None:
            lines.append(f"{each.at:%Y-%m-%dT%H:%M},,,,,movement,scheduled,")
        else:
            lines.append(
                f"{each.at:%Y-%m-%dT%H:%M},{each.systolic},{each.diastolic},,{each.heart_rate},measured,scheduled,"
            )
    return ("\r\n".join(lines) + "\r\n").encode()


def second(who: Someone, shape: Shape, start: datetime, *, serial: str, seed: int) -> bytes:
    """The Fenmarch day sheet: semicolons, decimal commas, day first, date and clock apart, words for failures."""
    sleep = span_of_sleep(shape, start)
    woman_or_man = {"female": "woman", "male": "man"}[who.sex]
    lines = [
        "Day sheet;Fenmarch 2",
        f"Put on;{start:%d/%m/%Y};{start:%H:%M}",
        f"Band;Fenmarch ribbon;{serial}",
        "Band width;wide",
        "Round the arm;33,5",
        "Side;right side",
        "Every;30;60",
        f"Changes at;{shape.sleep_to:02}:00;{shape.sleep_from:02}:00",
        "Hours meant;24",
        f"Wearer;{who.family};{who.given}",
        f"Wearer number;{who.number};{NHS}",
        f"Born on;{who.born:%d/%m/%Y}",
        f"Woman or man;{woman_or_man}",
        f"Lights out;{sleep[0]:%d/%m/%Y};{sleep[0]:%H:%M}",
        f"Up again;{sleep[1]:%d/%m/%Y};{sleep[1]:%H:%M}",
        "",
        "Number in sheet;Day;Clock;Went;Upper;Lower;Middle;Beats;Pulse;Begun by;Remark",
    ]
    for number, each in enumerate(attempts(shape, start, seed), start=1):
        when = f"{number};{each.at:%d/%m/%Y};{each.at:%H:%M}"
        if each.systolic is None:
            lines.append(f"{when};moved;;;;;;plan;")
        else:
            lines.append(f"{when};well;{each.systolic},0;{each.diastolic},0;;{each.heart_rate};even;plan;")
    return ("\r\n".join([*lines, "End of sheet"]) + "\r\n").encode("cp1252")
