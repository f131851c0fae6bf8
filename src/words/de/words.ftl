# Die Worte, die vor jedem Bild stehen.

in-100 = { $chance } von 100
chance-in-list = { $chance }
chance-in-cell = { $chance }
credits-title = Wassertemperatur
credits-from = Von { $source } ({ $licence })
now-nothing = Für heute ist nichts auf dem Wasser vorhergesagt.
now-title = Heute auf dem Wasser:
now-insect = { $insect }{ $place }: Chance { $chance }, welche zu sehen, { $plenty } auf mäßige oder starke Mengen{ $hours }{ $spinners }.
now-sure = Wie sicher: { $footing }
now-place = , am besten: { $reach }
now-hours = , am ehesten { $from } bis { $to } Uhr
now-spinners = ; Spinner { $from } bis { $to } Uhr, { $weather } { $chance }
flight-by-weather = beim vorhergesagten Wetter
flight-in-calm = bei ruhigem Wetter
now-more = und { $count } { $count ->
    [one] weiteres
   *[other] weitere
} in der Tabelle unten.
now-next = Als Nächstes beginnen: { $insects }.
now-over = Für dieses Jahr vorbei: { $insects }.
as-of = Daten bis { $data }. Berechnet am { $computed }. Tage und Uhrzeiten gelten vor Ort ({ $zone }).
stale-title = Veraltet.
stale-words = In letzter Zeit kam keine Wassertemperatur herein (Daten bis { $date }). Die Tage am Rand der Spannen sind so glaubhaft wie die in der Mitte.
meanings-title = Was die Wörter bedeuten
meanings-starts = Beginn, Ende
meanings-starts-words = die Tage, an denen Besuche wie die hiesigen beides zeigen; bei wenigen Besuchen kann der Beginn nach dem Höhepunkt liegen
meanings-counts = wo gezählt wurde
meanings-counts-words = das kleinste, das mittlere und das größte Drittel aller Fänge, in denen welche waren, in derselben Reihenfolge
meanings-generations = erste, zweite Generation
meanings-generations-words = Ein Insekt mit mehreren Generationen im Jahr hat für jede eine Vorhersage, in der Reihenfolge ihrer Tage
fitting-count = Berechnung { $done } von { $total }
fitting-first = Wenn sie fertig ist, erscheinen hier die ersten Vorhersagen. Lade die Seite bald noch einmal.
fitting-again = Einige Insekten fehlen hier noch oder zählen die neuesten Funde noch nicht mit; lade die Seite bald noch einmal.
fitting-pending = Es folgen noch: { $insects }.
no-forecast = Noch keine Vorhersage.
no-forecast-words = Wer das Gewässer betreut, muss Funde und Temperaturen einlesen und eine Berechnung starten.
cautions-title = Bevor du losgehst
cautions-all = Alle Vorsichtshinweise
unsourced = Wo nichts anderes steht: { $words }.
