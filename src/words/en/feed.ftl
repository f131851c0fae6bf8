# Calendars and news.

feed-starts = starts { $days }
feed-peaks = peaks { $days }
feed-spinners-at = spinners, { $part } { $from }–{ $to }
feed-spinners = spinners
feed-brood-of = { $insect } ({ $brood } of { $many })
part-of-day-morning = morning
part-of-day-afternoon = afternoon
part-of-day-evening = evening
part-of-day-night = night
feed-middle = As likely before as after { $date }.
feed-onset = Start of the season: one in twenty of the year's insects out.
feed-peak = The fullest day of the season is expected within these days.
feed-four-in-five = Four chances in five that it falls within the days shown.
feed-flight = From the first of these days to the last, a spinner flight is at least as likely as none.
feed-flight-hours = On { $date }: likeliest { $from } to { $to }, local time; the hour moves with the sun.
feed-flight-chance = Chance of a flight then, { $weather }: { $chance } in 100.
feed-class = Expected around the peak: { $class }.
feed-prior = Too few local records: this rests on general knowledge of the insect.
feed-as-of = As of { $date }.
feed-stale = Out of date: no water temperature has come in lately. Trust dates near the ends as much as the middle.
feed-in-the-dark = At dusk and in the dark go with company, and tell someone where you are.
feed-safety = A forecast is not a safety statement. Look at the water before you wade.
feed-seen = Seen here since { $date }.
feed-seen-spinners = Spinners seen here since { $date }.
feed-notice = A keeper's notice for { $place }, { $date }.
feed-calendar-name = { $water }: emergences
feed-calendar-about = When water insects are expected to start and to peak, and their spinners to fly.
feed-left-out = { $count ->
    [one] { $count } entry is
   *[other] { $count } entries are
} left out for want of room: past ones and those furthest ahead. Ask for one reach or insect to have all of them.
feed-placeholder = No emergence is forecast here yet
feed-placeholder-words = This entry keeps the subscription alive; forecasts appear here once they are published.
category-emergence = Emergence
category-onset = onset
category-peak = peak
category-flight = flight
category-notice = Notice
news-title = { $water }: emergence news
news-subtitle = Starts that are near or have moved much, and keepers' notices. A forecast is not a safety statement.
news-notice = Notice, { $place }, { $days }
news-moved = { $insect } at { $place } now starts { $days }
news-before = The start was expected { $days }.
news-near = { $insect } at { $place } is near: starts { $days }
