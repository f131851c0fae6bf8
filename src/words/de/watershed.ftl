# Seiten von Gewässern und Strecken: Worte, Tabellen, Bilder.

home-lead = Wann an diesen Gewässern Eintagsfliegen und ihre Verwandten zu erwarten sind.
home-empty = Noch ist kein Gewässer eingerichtet. Der Betreiber legt eines an mit { $command }.
home-holds = { $reaches ->
    [one] { $reaches } Strecke
   *[other] { $reaches } Strecken
}, { $insects ->
    [one] { $insects } Insekt
   *[other] { $insects } Insekten
}
home-about = Vorhersagen, wann Eintagsfliegen und andere Wasserinsekten schlüpfen, nach Gewässern.

report-title = Besuch melden
today-title = Heute, { $date }
season-title = Saison { $season }
season-all-reaches = Alle Strecken zusammen
season-one = Die Saison
season-on-reach = Die Saison an dieser Strecke
season-by-reach = Strecke für Strecke
sheet-link = Ein Blatt zum Ausdrucken
skill-title = Wie gut die Vorhersagen sind
seen-title = Was habe ich da gesehen?
card-link = Eine Karte für heute Abend, zum Ausdrucken
days-title = Die kommenden Tage

watershed-insects = Insekten
watershed-reaches = Strecken
watershed-mostly = vorwiegend { $water }
watershed-take = Zum Mitnehmen
watershed-digest = Die Woche als Text: { $link }.
watershed-digest-link = schlicht, zum Verschicken
watershed-numbers = Zahlen: { $link }.
watershed-numbers-link = Vorhersagen als JSON
watershed-about = Wann am Gewässer { $water } Wasserinsekten zu erwarten sind.
reach-about = Wann an der Strecke { $reach }, { $water }, Wasserinsekten zu erwarten sind.
reach-calendar = Kalender dieser Strecke

subscribe-private = Kalender und Neues sind für Mitglieder: Wer das Gewässer betreut, gibt dir eine eigene Adresse.
subscribe-calendar = Kalender: { $link }. Abonniere diese Adresse in deinem Kalender; manche brauchen einen Tag, bis sie Änderungen zeigen. Mit { $reach }, { $taxon }, { $class } oder { $kind } dahinter zeigt er weniger.
subscribe-news = Neues: { $link }, für einen Feedreader.
subscribe-news-link = was bevorsteht oder sich verschoben hat, und Hinweise

notices-title = Hinweise vom Verein
notices-more = und { $count } mehr auf der Seite.
notices-until-today = bis heute
notices-until = bis { $day }

footing-prior = Allgemeines Wissen über das Insekt; hier gibt es noch zu wenige Funde.
footing-records = { $records ->
    [one] { $records } Fund
   *[other] { $records } Funde
} aus { $years ->
    [one] { $years } Jahr
   *[other] { $years } Jahren
}
footing-better = { $records }; wenn das Wasser des ganzen Jahres bekannt ist, besser als das Datum allein.
footing-not-better = { $records }; selbst wenn das Wasser des ganzen Jahres bekannt ist, nicht nachweislich besser als das Datum allein.
footing-ahead-better = { $footing } Vier Wochen voraus: besser als das Datum allein.
footing-ahead-no-difference = { $footing } Vier Wochen voraus: kein klarer Unterschied zum Datum allein.
footing-ahead-worse = { $footing } Vier Wochen voraus: schlechter als das Datum allein.
sure-better = { $records }; vier Wochen voraus besser als das Datum allein.
sure-no-difference = { $records }; vier Wochen voraus etwa so gut wie das Datum allein.
sure-worse = { $records }; vier Wochen voraus schlechter als das Datum allein.
when-range = { $range }, etwa { $middle }
when-open = ab { $from }, etwa { $middle }
when-if-at-all = nicht vor { $from }, wenn überhaupt
when-not = nicht in dieser Saison

table-insect = Insekt
table-reach = Strecke
table-season = Die Saison in Zahlen
table-caption = Die Saison in Zahlen. Die Spannen treffen in vier von fünf Fällen zu.
table-caption-reaches = Die Saison in Zahlen. Die Spannen treffen in vier von fünf Fällen zu, von der frühesten Strecke bis zur spätesten.
table-starts = Beginn
table-fullest = Höhepunkt
table-ends = Ende
table-today = Chance heute, von 100
table-sure = Wie sicher
table-over = für dieses Jahr vorbei
days-nothing = In den kommenden { $days } Tagen ist nichts zu erwarten, was eine Zeile lohnt.
days-table = Die kommenden Tage in Zahlen
days-caption = Chancen von 100 für eine Person, die die zwei Stunden um die wahrscheinlichste Uhrzeit zuschaut: überhaupt welche zu sehen, und mäßige oder starke Mengen.
days-day = Tag
days-water = Wasser, { $unit }

picture-height = Höhe: wie viel an einem Tag zu erwarten ist.
picture-hatched = Schraffiert: wann der Beginn liegen kann, in vier von fünf Fällen; der senkrechte Strich: davor so wahrscheinlich wie danach. Die Tabelle darunter nennt dieselben Tage.
picture-heights = Die Höhen in Zahlen
picture-heights-caption = Höhe jeder Zeile am ersten, elften und einundzwanzigsten jedes Monats: wie viel zu erwarten ist, von 0 (keine) bis 3 (stark).
picture-today = heute, { $day }
picture-starts = Beginn { $when }
picture-described = Beginn { $starts }; Höhepunkt { $fullest }; Ende { $ends }.
clock-title = Die Stunden von heute, { $day }, Uhrzeit vor Ort
clock-water = Wasser: im Tagesmittel etwa { $middle }, in vier von fünf Fällen zwischen { $low } und { $high }.
clock-nothing = Für kein Insekt dieser Strecke gibt es heute Uhrzeiten.
clock-hours = { $from } bis { $to } Uhr, am ehesten gegen { $likeliest } Uhr
