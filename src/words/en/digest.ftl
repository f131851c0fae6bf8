# The week as text.

digest-title = { $water }: the week from { $date }
digest-as-of = Data up to { $date }. Days and hours are local ({ $zone }).
digest-stale = Out of date: no water temperature has come in lately. Trust all dates less.
digest-no-forecast = No forecast yet
digest-more = More
digest-week = On the water until { $date }
digest-chance = The chance in 100 that one person, watching two hours at the likeliest time, sees any, on its best day.
digest-nothing = Nothing is likely.
digest-insect = { $insect }: { $chance } on { $day }{ $hours }{ $spinners }
digest-hours = ; { $from } to { $to }
digest-spinners = ; spinners { $from } to { $to }, { $chance } { $weather }
digest-next = Next to start
digest-starts = { $insect }: { $when }. { $footing }
