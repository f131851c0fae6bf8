# How the temperature of the water came about.

caution-stop = The water may reach { $warmest } °C in the coming week: do not fish for trout that are to be released. Local rules govern.
caution-care = The water may reach { $warmest } °C in the coming week: play trout quickly, keep them in the water. Local rules govern.
caution-no-statement = A forecast of insects says nothing about wading, rising water or lightning: look, ask locally, and turn back in time.

water-on-reach = on the reach
water-at-gauge = at gauge { $gauge }
water-measured = Measured { $at }.
water-measured-with = Measured { $at }; missing days from { $gauges }.
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
