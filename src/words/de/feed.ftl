# Kalender und Neues.

feed-starts = beginnt { $days }
feed-peaks = Höhepunkt { $days }
feed-spinners-at = Spinner, { $part } { $from }–{ $to }
feed-spinners = Spinner
feed-brood-of = { $insect } ({ $brood } von { $many })
part-of-day-morning = morgens
part-of-day-afternoon = nachmittags
part-of-day-evening = abends
part-of-day-night = nachts
feed-middle = So wahrscheinlich vor wie nach dem { $date }.
feed-onset = Beginn der Saison: Jedes zwanzigste Insekt des Jahres ist geschlüpft.
feed-peak = Der stärkste Tag der Saison ist in diesen Tagen zu erwarten.
feed-four-in-five = In vier von fünf Fällen liegt er in den gezeigten Tagen.
feed-flight = Vom ersten dieser Tage bis zum letzten ist ein Spinnerflug mindestens so wahrscheinlich wie keiner.
feed-flight-hours = Am { $date }: am ehesten { $from } bis { $to } Uhr, Ortszeit; die Uhrzeit wandert mit der Sonne.
feed-flight-chance = Chance auf einen Flug dann, { $weather }: { $chance } von 100.
feed-class = Zu erwarten um den Höhepunkt: { $class }.
feed-prior = Zu wenige Funde von hier: Das beruht auf allgemeinem Wissen über das Insekt.
feed-as-of = Stand { $date }.
feed-stale = Veraltet: In letzter Zeit kam keine Wassertemperatur herein. Die Tage am Rand sind so glaubhaft wie die in der Mitte.
feed-in-the-dark = In der Dämmerung und im Dunkeln nur in Begleitung, und sag jemandem, wo du bist.
feed-safety = Eine Vorhersage sagt nichts über die Sicherheit. Sieh dir das Wasser an, bevor du watest.
feed-seen = Hier gesehen seit { $date }.
feed-seen-spinners = Spinner hier gesehen seit { $date }.
feed-notice = Ein Hinweis vom Verein für { $place }, { $date }.
feed-calendar-name = { $water }: Schlupfzeiten
feed-calendar-about = Wann Beginn und Höhepunkt von Wasserinsekten zu erwarten sind, und wann ihre Spinner fliegen.
feed-left-out = { $count ->
    [one] { $count } Eintrag fehlt,
   *[other] { $count } Einträge fehlen,
} weil der Platz nicht reicht: vergangene und die fernsten. Frag nach einer Strecke oder einem Insekt allein, um alle zu haben.
feed-placeholder = Hier ist noch kein Schlupf vorhergesagt
feed-placeholder-words = Dieser Eintrag hält das Abonnement am Leben; Vorhersagen erscheinen hier, sobald sie veröffentlicht sind.
category-emergence = Schlupf
category-onset = Beginn
category-peak = Höhepunkt
category-flight = Flug
category-notice = Hinweis
news-title = { $water }: Neues zum Schlupf
news-subtitle = Was bald beginnt oder sich stark verschoben hat, und Hinweise vom Verein. Eine Vorhersage sagt nichts über die Sicherheit.
news-notice = Hinweis, { $place }, { $days }
news-moved = { $insect }, { $place }: beginnt nun { $days }
news-before = Zuvor war der Beginn { $days } zu erwarten.
news-near = { $insect }, { $place }: steht bevor, Beginn { $days }
