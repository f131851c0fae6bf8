# Die ganze Saison, das Blatt, die Abendkarte.

season-of = { $water }, Saison { $season }
season-sheet = Die Saison auf einem Blatt zum Ausdrucken
season-about = Die ganze Saison der Wasserinsekten am Gewässer { $water }.
season-page-title = Saison, { $water }
season-starts = Beginn nach Strecken
season-starts-caption = Wann jedes Insekt beginnt; zuerst die Strecke, die für die meisten die früheste ist

sheet-key = Kurve: wie viel an einem Tag zu erwarten ist, alle Strecken zusammen. Schraffiert: wann der Beginn liegen kann, in vier von fünf Fällen. Uhrzeiten gelten vor Ort; Größen sind Körper ohne Schwanzfäden.
sheet-rows = Die Saison in Zeilen
sheet-caption = Insekten nach dem Tag ihres Beginns
sheet-expected = Über die Saison zu erwarten
sheet-hour = Uhrzeit
sheet-safety = Eine Vorhersage sagt nichts über die Sicherheit: Sieh dir das Wasser an, bevor du watest, beachte die örtlichen Regeln, reinige, prüfe und trockne deine Ausrüstung zwischen zwei Gewässern. Neueste Fassung: { $address }
sheet-about = Die Saison der Wasserinsekten am Gewässer { $water } auf einem Blatt.
sheet-title = Saisonblatt, { $water }
sheet-about-day = etwa { $day }

card-title = { $reach }, Abend des { $date }
card-fitting = Berechnungen laufen: Manche Insekten können fehlen.
card-nothing = Für diesen Abend ist nichts vorhergesagt.
card-caption = Insekten des Abends, die wahrscheinlichsten zuerst; Chancen von 100, welche zu sehen
card-what = Was
card-emerges = Schlupf
card-spinners = Spinner
card-sure = Wie sicher:
card-chances = Die Chancen gelten für eine Person, die zwei Stunden zuschaut.
card-safety = Eine Vorhersage sagt nichts über die Sicherheit. Alle Vorsichtshinweise: { $about }. Neueste Fassung: { $card }
card-about = Was am Abend des { $date } an der Strecke { $reach } zu erwarten ist.
card-page-title = Abendkarte, { $reach }
card-stage = Stadium
card-stages = gegen { $time } Uhr, Chancen von 100: { $stages }.
card-put-on = Anbinden:
