# Der Rahmen jeder Seite.

layout-news = Neues
layout-skip = Zum Inhalt springen
layout-site = Seiten
layout-waters = Gewässer
layout-about = Info
layout-interface = API
layout-safety = Eine Vorhersage sagt nichts über die Sicherheit. Sieh dir das Wasser an, bevor du watest, und beachte örtliche Hinweise.
layout-where = Wo du bist
layout-title = { $what } · Subimago

# Skalen und Längen.

units-choice = Temperaturen in { $celsius } oder { $fahrenheit }.
units-lengths = { $from } bis { $to } mm
