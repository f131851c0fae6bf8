# Die Woche als Text.

digest-title = { $water }: die Woche ab { $date }
digest-as-of = Daten bis { $date }. Tage und Uhrzeiten gelten vor Ort ({ $zone }).
digest-stale = Veraltet: In letzter Zeit kam keine Wassertemperatur herein. Trau allen Tagen weniger.
digest-no-forecast = Noch keine Vorhersage
digest-more = Mehr
digest-week = Auf dem Wasser bis { $date }
digest-chance = Die Chance von 100, dass eine Person, die zur besten Zeit zwei Stunden zuschaut, welche sieht, am besten Tag.
digest-nothing = Nichts ist wahrscheinlich.
digest-insect = { $insect }: { $chance } am { $day }{ $hours }{ $spinners }
digest-hours = ; { $from } bis { $to } Uhr
digest-spinners = ; Spinner { $from } bis { $to } Uhr, { $weather } { $chance }
digest-next = Als Nächstes beginnen
digest-starts = { $insect }: { $when }; { $footing }
