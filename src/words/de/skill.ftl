# Wie gut die Vorhersagen waren.

skill-how = Jedes vergangene Jahr wird einmal weggelassen und aus den anderen vorhergesagt; die Wassertemperatur ist dabei nur bis zum Tag der Vorhersage bekannt. Bewertet wird der Tag, bis zu dem sich ein Zehntel der Insekten einer Saison in den Funden gezeigt hatte.
skill-none = Noch keine Bewertung.
skill-none-words = Sie braucht Funde aus mindestens drei Jahren und wird nach einer Berechnung erstellt, höchstens einmal am Tag.
skill-all = Alle Bewertungen, nach Tagen im Voraus: { $link }.
skill-all-link = als JSON
skill-about = Wie gut frühere Vorhersagen der Insekten am Gewässer { $water } gewesen wären.
skill-page-title = Wie gut, { $water }
skill-lead = Vier Wochen im Voraus verfehlten die Vorhersagen diesen Tag im Mittel um { $days ->
    [one] { $days } Tag
   *[other] { $days } Tage
}. Von ihren Spannen, die in vier von fünf Fällen zutreffen sollen, trafen { $cover } von 100 zu.
skill-wider = Wo vergangene Jahre zu oft außerhalb lagen, werden die Spannen breiter gezeichnet, als das Modell allein sie angibt, und zwar um diese Faktoren:
skill-not-wider = Keine Spanne muss breiter gezeichnet werden, als das Modell allein sie angibt.
skill-better = Besser als das Datum allein:
skill-no-difference = Kein klarer Unterschied zum Datum allein:
skill-worse = Schlechter als das Datum allein:
skill-clear = Klar heißt: um mehr, als der Zufall allein bei einem von zehn Insekten zeigen würde; wenige Jahre sagen wenig.
skill-picture = Im Vergleich zum Datum allein, vier Wochen im Voraus
skill-picture-key = Rechts der Mittellinie: besser. Der Balken: ein Standardfehler über die Jahre nach beiden Seiten.
skill-much-worse = viel schlechter
skill-same = gleich
skill-never-wrong = nie falsch
skill-gain-described = { $insect }: { $gain }, auf { $error } genau; 0 heißt gleich, 1 nie falsch
skill-table = Bewertung vier Wochen im Voraus
skill-table-caption = Vier Wochen im Voraus, jedes vergangene Jahr einmal weggelassen
skill-error-days = Fehler, Tage
skill-by-date = Nach dem Datum allein
skill-held = Zutreffende Spannen von 100
skill-years = Jahre
skill-hours = Uhrzeiten
skill-hours-table = Bewertung der Uhrzeiten
skill-hours-caption = Fehler der stärksten Stunde bei Besuchen weggelassener Jahre, Stunden
skill-error = Fehler
skill-by-knowledge = Nach allgemeinem Wissen
skill-visits = Besuche
skill-flights = Flüge der Spinner
skill-flights-table = Bewertung der Flüge der Spinner
skill-flights-caption = Fehler der Chancen auf keine, vereinzelt, mäßig und stark bei Beobachtungen weggelassener Jahre (Ranked Probability Score): 0 nie falsch, 3 immer
skill-by-frequencies = Danach, wie oft jedes in anderen Jahren vorkam
skill-watches = Beobachtungen
skill-none-of-insect = Noch keine Bewertung: Sie braucht Funde aus mindestens drei Jahren und wird nach einer Berechnung erstellt.
skill-by-lead = Bewertung nach Tagen im Voraus
skill-by-lead-caption = Der Tag, bis zu dem sich ein Zehntel gezeigt hatte, jedes vergangene Jahr einmal weggelassen. Gewinn: 0 ist nicht besser als das Datum allein, 1 nie falsch.
skill-days-ahead = Tage im Voraus
skill-brood = Generation
skill-gain = Gewinn
