"""Day length, sunrise and sunset against skyfield with the DE421 ephemeris; civil twilight against
ephem (which agrees with skyfield to 0.003 min when told to use the sun's centre without refraction).
"""

import datetime as dt
import pathlib
import warnings

import ephem
import skyfield_data
from skyfield import almanac
from skyfield.api import load, load_file, wgs84

# The packaged earth-rotation table ages; skyfield's built-in time scale is used instead of it.
warnings.filterwarnings("ignore", message="The file finals2000A.all has expired")

MIDNIGHT = dt.time(0, tzinfo=dt.timezone.utc)


def allowed(lat):
    """Minutes of error that are promised for the day's length."""
    return 0.3 if abs(lat) <= 60 else 0.5


def local_day(instant, lon):
    """The local mean solar date of an instant."""
    return (instant + dt.timedelta(hours=lon / 15)).date()


def minutes(instant, day):
    return (instant - dt.datetime.combine(day, MIDNIGHT)).total_seconds() / 60


def skyfield_events(lat, lon, depression, first, last):
    """Minutes of rise and set by local day."""
    earth_and_sun = load_file(pathlib.Path(skyfield_data.get_skyfield_data_path()) / "de421.bsp")
    scale = load.timescale(builtin=True)
    place = earth_and_sun["earth"] + wgs84.latlon(lat, lon)
    start, end = (scale.utc(d.year, d.month, d.day) for d in (first - dt.timedelta(2), last + dt.timedelta(2)))
    found = []
    for search in (almanac.find_risings, almanac.find_settings):
        times, real = search(place, earth_and_sun["sun"], start, end, horizon_degrees=-depression)
        instants = [t.utc_datetime() for t, ok in zip(times, real) if ok]
        days = {local_day(instant, lon): instant for instant in instants}
        found.append({day: minutes(instant, day) for day, instant in days.items()})
    return found


def ephem_hours(lat, lon, day, depression):
    place = ephem.Observer()
    place.lat, place.lon, place.pressure, place.horizon = str(lat), str(lon), 0, str(-depression)
    noon = dt.datetime.combine(day, dt.time(12)) - dt.timedelta(hours=lon / 15)
    place.date = noon
    sun = ephem.Sun()
    try:
        rise = place.previous_rising(sun, use_center=True)
        place.date = noon
        return 24 * (place.next_setting(sun, use_center=True) - rise)
    except ephem.AlwaysUpError:
        return 24.0
    except ephem.NeverUpError:
        return 0.0


def check(rows):
    events = {}
    for row in rows:
        lat, lon, depression = (float(row[c]) for c in ("lat_deg", "lon_deg", "depression_deg"))
        day, hours = dt.date.fromisoformat(row["date"]), float(row["hours"])
        where = f"{lat} {lon} {day} at {depression}"
        if depression > 1:
            off = 60 * (hours - ephem_hours(lat, lon, day, depression))
            # Near the white nights the sun grazes the edge and any model turns hours on minutes.
            grazing = hours > 21.5
            yield abs(off) < (8.0 if grazing else allowed(lat)), f"{where}: length off by {off:.3f} min (ephem)"
            continue
        place = (lat, lon, depression)
        if place not in events:
            events[place] = skyfield_events(lat, lon, depression, dt.date(2023, 1, 1), dt.date(2027, 1, 1))
        rise, sets = events[place][0][day], events[place][1][day]
        off = 60 * hours - (sets - rise)
        yield abs(off) < allowed(lat), f"{where}: length off by {off:.3f} min (skyfield)"
        for name, ours, theirs in (("rise", row["rise_utc_min"], rise), ("set", row["set_utc_min"], sets)):
            off = float(ours) - theirs
            yield abs(off) < allowed(lat), f"{where}: {name} off by {off:.3f} min (skyfield)"
        # Noon halves the day but for the sun's move in declination within it.
        off = float(row["noon_utc_min"]) - (rise + sets) / 2
        yield abs(off) < 1.5, f"{where}: noon {off:.3f} min off the middle of the day"
