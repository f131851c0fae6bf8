# Was andere Seiten zeigen.

likelihood-very-likely = sehr wahrscheinlich
likelihood-likely = wahrscheinlich
likelihood-perhaps = vielleicht
embed-title = Zu erwartende Insekten, { $water }
embed-nothing = nichts wahrscheinlich
embed-hours = { $chance }, { $from } bis { $to } Uhr
embed-today = Heute
embed-tomorrow = Morgen
embed-question = Stand { $date }. Die Zahlen: wie oft von 100 Mal eine Person, die zur besten Zeit zwei Stunden zuschaut, welche sieht. Eine Vorhersage sagt nichts über die Sicherheit.
embed-stale = Veraltet: In letzter Zeit kam keine Wassertemperatur herein.
embed-more-reaches = und { $count } { $count ->
    [one] weitere Strecke
   *[other] weitere Strecken
} auf der Seite
snippet-frame-title = Zu erwartende Insekten
snippet-image-title = Zu erwartende Insekten der kommenden Tage
snippet-title = { $water } auf der eigenen Website zeigen
snippet-image-alone = Als Bild, das jede Website zeigen darf. (Einen Rahmen, der mit seinem Text wächst, gibt es auch: Bitte den Betreiber dieses Dienstes, deine Website in { $setting } zu nennen.)
snippet-frame-anywhere = Als Rahmen, der mit seinem Text wächst, auf jeder Website:
snippet-frame = Als Rahmen, der mit seinem Text wächst, auf { $sites }:
snippet-image = Als Bild, wo Rahmen nicht erlaubt sind:
snippet-options = Mit { $light } oder { $dark }, { $reach }, { $taxon } oder { $units } hinter der Adresse ändert sich die Anzeige. Cookies werden keine gesetzt.
