# How the temperature of the water came about.

caution-stop = The water may reach { $warmest } °C in the coming week: do not fish for trout that are to be released. Local rules govern.
caution-care = The water may reach { $warmest } °C in the coming week: play trout quickly, keep them in the water. Local rules govern.
caution-no-statement = A forecast of insects says nothing about wading, rising water or lightning: look, ask locally, and turn back in time.
caution-at = { $places }: { $caution }
caution-hour-estimated = At this hour the water is about { $now } °C (estimated):
caution-hour-measured = At this hour the water is about { $now } °C:
caution-hour-stop = do not fish for trout that are to be released.
caution-hour-care = play trout quickly, keep them in the water.
caution-hour-coolest = It is coolest about { $hour }, { $coolest } °C.
caution-hour-rules = Local rules govern.

water-on-reach = on the reach
water-at-gauge = at gauge { $gauge }
water-measured = Past days: measured { $at }.
water-measured-with = Past days: measured { $at }; those missing there from { $gauges }.
water-regression = Estimated from gauge { $gauge }, with the few days that were measured here.
water-between = Estimated between gauges { $upper } and { $lower }.
water-neighbours = Not measured here: estimated from { $gauges }.
water-gauges = { $count ->
    [one] gauge { $names }
   *[other] gauges { $names }
}
water-away = , { $km } km away
water-from-air = { $days } days from the air at gauge { $gauge }{ $away }.
water-ahead = Ahead to { $to } by the forecast of the air at gauge { $gauge }{ $away }, made { $made }.

water-silent = Fetching from { $gauge } fails ({ $failure }). { $last }
water-silent-last = It last went well on { $date }.
water-silent-never = It has never gone well.
water-sunset = At sunset: air { $air }{ $wind }{ $sky }{ $rain } (forecast of { $made }).
water-sunset-wind = , wind { $kmh } km/h
water-sunset-clear = , clear sky
water-sunset-broken = , broken cloud
water-sunset-clouds = , clouds all over
water-sunset-rain = , { $mm } mm of rain an hour
water-sunset-dry = , no rain
water-unknown = No water temperature is known here for today.
water-today = Water today about { $temperature }: { $how }{ $error }.
water-today-error = , give or take { $difference }
water-last-day = The last day measured for this reach is { $date }, { $age } days ago.
water-no-day = No day of this season was measured for this reach itself.
water-basis-measured = measured
water-basis-gap = not measured, estimated between the days before and after
water-basis-gauge = not measured here, estimated from another gauge
water-basis-gauges = not measured here, estimated from other gauges
water-basis-between = not measured here, estimated between the gauges above and below
water-basis-air = not measured, estimated from the air
water-basis-ahead = not measured yet, expected from past years and the last days
water-basis-ahead-with-air = not measured yet, expected from a forecast of the air

hours-own = Hours by the usual day of { $month } at gauge { $gauge }.
hours-other = Hours by the usual day of { $month } at gauge { $gauge }{ $away }{ $stretched }.
hours-stretched = , stretched to the range that is usual here
hours-common = Hours by the course that streams have in common, with the range that is usual here: no gauge here is read by the hour.
hours-common-small = Hours by the course that streams have in common, with the range of small streams; open rivers may have twice as much: no gauge here is read by the hour.
hours-ends = By the hour: coolest about { $coolest_at } ({ $coolest }), warmest about { $warmest_at } ({ $warmest }).
hours-give-or-take = { $water }, give or take { $difference }
hours-warm-all-day = It may be { $limit } or warmer all day.
hours-warm-between = It may be { $limit } or warmer between { $from } and { $to }.
hours-title = Water hour by hour
hours-caption = Mean water of each hour today, { $unit }, and by how much it may be off
hours-from = From
hours-water = Water
hours-error = Give or take
hours-measured = measured
