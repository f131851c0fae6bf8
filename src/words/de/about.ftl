# Über den Dienst, und Vorsichtshinweise.

about-title = Über Subimago
about-lead = Subimago sagt vorher, wann Eintagsfliegen und andere Wasserinsekten schlüpfen: aus der Temperatur des Wassers, der Länge des Tages und dem, was Menschen gesehen und aufgeschrieben haben, auch Besuche ohne Fund.
about-read = Wie eine Vorhersage zu lesen ist
about-read-shares = Beginn, Hälfte und Ende sind die Tage, bis zu denen 5, 50 und 95 von 100 der Insekten einer Saison geschlüpft sind.
about-read-ranges = Eine Spanne trifft in vier von fünf Fällen zu. In einem von fünf liegt die Wahrheit außerhalb; das ist kein Fehler.
about-read-chances = Die Chancen eines Tages beantworten eine Frage: Was sähe eine Person, die die zwei Stunden um die wahrscheinlichste Uhrzeit dieses Tages zuschaut, bei üblichem Wasserstand und üblicher Bewölkung?
about-read-counts = Wo gezählt wurde, sind die Klassen das kleinste, das mittlere und das größte Drittel aller Fänge, in denen welche waren.
about-read-few = Wo es zu wenige Funde gibt, beruht die Vorhersage auf allgemeinem Wissen über das Insekt und sagt das. Wo sie nicht nachweislich besser ist als das Datum allein, sagt sie auch das.
about-people = Orte und Menschen
about-people-words = Meldungen werden nur nach Strecke und Tag veröffentlicht: keine Stellen, keine Uhrzeiten, keine Notizen, keine Namen. Diese Seiten setzen keine Cookies und laden nichts von anderswo. Das { $form } hebt dein Token und noch nicht gesendete Meldungen in deinem Browser auf und nirgends sonst.
about-people-form = Meldeformular
about-cautions = Vorsicht
about-safety = Eine Vorhersage sagt nichts über die Sicherheit.
about-authorities = Folge den örtlichen Behörden und ausgebildeten Führern.
about-machines = Für Programme
about-reference = Beschreibung der Schnittstelle (englisch)
about-openapi = ihr OpenAPI-Dokument
about-problems = Arten von Problemen
about-about = Was Subimago vorhersagt, wie es zu lesen ist und wovor du dich hüten solltest.
