# Wie die Wassertemperatur zustande kam.

caution-stop = Das Wasser kann in der kommenden Woche { $warmest } °C erreichen: Fische nicht auf Forellen, die zurückgesetzt werden sollen. Es gelten die örtlichen Regeln.
caution-care = Das Wasser kann in der kommenden Woche { $warmest } °C erreichen: Forellen zügig drillen und im Wasser lassen. Es gelten die örtlichen Regeln.
caution-no-statement = Eine Vorhersage von Insekten sagt nichts über Waten, steigendes Wasser oder Gewitter: Sieh hin, frag vor Ort und kehr rechtzeitig um.
caution-at = { $places }: { $caution }
caution-hour-estimated = Zu dieser Stunde hat das Wasser etwa { $now } °C (geschätzt):
caution-hour-measured = Zu dieser Stunde hat das Wasser etwa { $now } °C:
caution-hour-stop = Fische nicht auf Forellen, die zurückgesetzt werden sollen.
caution-hour-care = Forellen zügig drillen und im Wasser lassen.
caution-hour-coolest = Am kühlsten ist es gegen { $hour } Uhr, { $coolest } °C.
caution-hour-rules = Es gelten die örtlichen Regeln.

water-on-reach = an der Strecke
water-at-gauge = an der Messstelle { $gauge }
water-measured = Vergangene Tage: gemessen { $at }.
water-measured-with = Vergangene Tage: gemessen { $at }; dort fehlende von { $gauges }.
water-regression = Geschätzt nach der Messstelle { $gauge }, mit den wenigen Tagen, die hier gemessen wurden.
water-between = Geschätzt zwischen den Messstellen { $upper } und { $lower }.
water-neighbours = Hier nicht gemessen: geschätzt nach { $gauges }.
water-gauges = { $count ->
    [one] der Messstelle { $names }
   *[other] den Messstellen { $names }
}
water-away = , { $km } km entfernt
water-from-air = { $days ->
    [one] Ein Tag
   *[other] { $days } Tage
} aus der Lufttemperatur der Messstelle { $gauge }{ $away }.
water-ahead = Voraus bis { $to } nach der Vorhersage der Luft an der Messstelle { $gauge }{ $away }, erstellt { $made }.

water-silent = Der Abruf von { $gauge } schlägt fehl ({ $failure }). { $last }
water-silent-last = Zuletzt gelang er am { $date }.
water-silent-never = Er ist noch nie gelungen.
water-sunset = Bei Sonnenuntergang: Luft { $air }{ $wind }{ $sky }{ $rain } (Vorhersage vom { $made }).
water-sunset-wind = , Wind { $kmh } km/h
water-sunset-clear = , klarer Himmel
water-sunset-broken = , aufgelockerte Bewölkung
water-sunset-clouds = , bedeckt
water-sunset-rain = , { $mm } mm Regen in der Stunde
water-sunset-dry = , kein Regen
water-unknown = Für heute ist hier keine Wassertemperatur bekannt.
water-today = Wasser heute etwa { $temperature }: { $how }{ $error }.
water-today-error = , auf { $difference } genau
water-last-day = Der letzte für diese Strecke gemessene Tag ist der { $date }, vor { $age } Tagen.
water-no-day = Kein Tag dieser Saison wurde für diese Strecke selbst gemessen.
water-basis-measured = gemessen
water-basis-gap = nicht gemessen, geschätzt zwischen den Tagen davor und danach
water-basis-gauge = hier nicht gemessen, geschätzt nach einer anderen Messstelle
water-basis-gauges = hier nicht gemessen, geschätzt nach anderen Messstellen
water-basis-between = hier nicht gemessen, geschätzt zwischen den Messstellen darüber und darunter
water-basis-air = nicht gemessen, geschätzt nach der Luft
water-basis-ahead = noch nicht gemessen, erwartet nach früheren Jahren und den letzten Tagen
water-basis-ahead-with-air = noch nicht gemessen, erwartet nach einer Vorhersage der Luft

hours-own = Tagesgang nach dem üblichen Tag im { $month } an der Messstelle { $gauge }.
hours-other = Tagesgang nach dem üblichen Tag im { $month } an der Messstelle { $gauge }{ $away }{ $stretched }.
hours-stretched = , gestreckt auf die hier übliche Spanne
hours-common = Tagesgang nach dem Verlauf, den Bäche gemeinsam haben, mit der hier üblichen Spanne: Stündlich wird hier nirgends gemessen.
hours-common-small = Tagesgang nach dem Verlauf, den Bäche gemeinsam haben, mit der Spanne kleiner Bäche; offene Flüsse haben bis zum Doppelten: Stündlich wird hier nirgends gemessen.
hours-ends = Im Tagesgang: am kühlsten gegen { $coolest_at } Uhr ({ $coolest }), am wärmsten gegen { $warmest_at } Uhr ({ $warmest }).
hours-give-or-take = { $water }, auf { $difference } genau
hours-warm-all-day = Es kann den ganzen Tag { $limit } oder mehr haben.
hours-warm-between = Zwischen { $from } und { $to } Uhr kann es { $limit } oder mehr haben.
hours-title = Wasser Stunde für Stunde
hours-caption = Mittel jeder Stunde heute, { $unit }, und wie weit es danebenliegen kann
hours-from = Ab
hours-water = Wasser
hours-error = Genau auf
hours-measured = gemessen
