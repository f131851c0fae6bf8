# Vorsichtshinweise.

caution-wading = Steigendes oder trübes Wasser: nicht waten. Unterhalb von Wehren und Talsperren kann ein Fluss auch ohne Regen steigen.
caution-lightning = Gewitter: Leg beim ersten Donner die Rute weg und geh aus dem Wasser.
caution-water = Warmes Wasser: ab 18 °C Forellen besonders schonend behandeln, ab 20 °C nicht fischen, um zurückzusetzen. Es gelten die örtlichen Regeln.
caution-clean-check-dry = Stiefel, Kescher und Watzeug zwischen zwei Gewässern reinigen, prüfen und trocknen.
caution-access = Frag, bevor du fremden Grund betrittst, und bleib auf vereinbarten Wegen.
caution-spawning-gravel = Laichkies: nicht darauf waten.
caution-alone = In der Dämmerung und auf Eis nur in Begleitung, und sag jemandem, wo du bist.
caution-collecting = Setz gefangene Insekten zurück; manche sind geschützt. Es gelten die örtlichen Regeln.
caution-notices = Hinweise der Behörden auf Verschmutzung und Algen gehen allem hier vor.

# Woher etwas stammt.

source-common-practice-no-source = gängige Praxis, ohne Quelle
source-common-practice-from-memory = gängige Praxis, aus dem Gedächtnis
source-from-memory = aus dem Gedächtnis
source-character-of-the-order-from-memory = Merkmal der Ordnung, aus dem Gedächtnis
source-the-published-forecast = die veröffentlichte Vorhersage
source-20-c-daily-maximum-doi-10-1577-m09-107-1 = Tageshöchstwert von 20 °C: doi 10.1577/M09-107.1
source-no-deaths-of-angled-trout-below-a-daily-maximum-of-20-c-doi-10-1577-m09-107-1 = kein Tod geangelter Forellen unter einem Tageshöchstwert von 20 °C: doi 10.1577/M09-107.1
# Die Regeln: warum.

rule-no-forecast = Für diese Strecke und diesen Tag ist keine Vorhersage veröffentlicht: Das ist, was die meiste Zeit im Wasser ist.
rule-look-first = Zahlen sind Chancen; das Insekt in der Hand ist die Antwort.
rule-empty-hours = Vielleicht kommt zu dieser Stunde nichts: Was am Grund lebt, ist immer da.
rule-habit-free-moving = Die Nymphen schwimmen oder krabbeln frei umher und driften an den meisten Tagen; die Fische kennen sie.
rule-habit-clinger = Die Nymphen klammern sich an Steine und driften kaum, bis sie kurz vor dem Schlupf stehen.
rule-stand-by-fast-water = Das Insekt lebt zwischen den Steinen schnellen Wassers.
rule-stand-by-silt = Das Insekt gräbt in Schlick oder feinem Kies, wo das Wasser langsam ist.
rule-surface-before = In den Stunden vor den ersten Duns driften die Nymphen und steigen dann auf.
rule-surface-early = Die ersten verlassen im Oberflächenfilm ihre Haut, und die Nymphen darunter steigen noch.
rule-surface-peak = Der Schlupf geschieht an der Oberfläche: Was im Film hängt, ist am leichtesten zu nehmen, danach kommen die Duns.
rule-surface-tail = Spät in diesen Stunden sind Duns, Krüppel und ertrunkene Duns auf dem Wasser geblieben.
rule-bottom-before = Bevor sie sich häuten, kommen die Nymphen auf die Oberseite der Steine.
rule-bottom-early = Die Haut bleibt am Grund, das Insekt steigt mit Flügeln auf: Eine quer und aufwärts schwingende Nassfliege sieht so aus.
rule-bottom-peak = Das Insekt steigt geflügelt vom Grund auf: zuerst die schwingende Nassfliege, dann der Dun.
rule-bottom-tail = Spät in diesen Stunden bleiben die Duns übrig.
rule-crawl-out-no-dun = Das Insekt verlässt das Wasser als Nymphe: Einen Dun sehen die Fische nur, wenn der Wind einen hineinweht.
rule-crawl-out = Zum Schlupf kriecht das Insekt an Land: Vorher sammeln sich die Nymphen am Rand.
rule-crawl-out-tail = Zum Schlupf kriecht das Insekt an Land, und nur wenige sind noch im Wasser.
rule-crawl-out-pupa = Es ist eine Köcherfliege: Was zum Rand kriecht oder schwimmt, ist die Puppe.
rule-pupal-before = Die Puppen verlassen ihre Köcher und driften, bevor sie aufsteigen.
rule-pupal-early = Die ersten Puppen steigen zur Oberfläche.
rule-pupal-peak = Puppen steigen auf, und geflügelte Insekten laufen und huschen über das Wasser.
rule-pupal-tail = Spät in diesen Stunden bleiben die geflügelten Insekten übrig.
rule-lays-on-surface = Die Spinner legen ihre Eier auf der Oberfläche ab und sterben dort: vor allem liegende, zu Beginn des Spinnerfalls aufrechte.
rule-lays-under-water = Die Weibchen gehen zur Eiablage unter Wasser: eine kleine Nassfliege unter der Oberfläche, an Steinen, die herausragen.
rule-lays-either-way = Manche Weibchen legen an der Oberfläche ab, manche unter Wasser: von beidem die Hälfte.
rule-lays-from-stones = Die Eiablage geschieht von Steinen aus: wenig über offenem Wasser, etwas an den Steinen.
rule-lays-at-the-edge = Die Eiablage geschieht an Land oder am Rand: Der Flug bringt den Fischen fast nichts.
rule-adults-return = Das Insekt hat weder Dun noch Spinner: Zur Eiablage kehrt das geflügelte Insekt zurück.
rule-stonefly-lays = Bei Steinfliegen zählt das eierlegende Weibchen am meisten.
rule-tiny = Das Insekt ist winzig: Die Fische warten, bis die Spinner auf dem Wasser liegen, und nehmen viele auf einmal.
rule-heavy = Bei so vielen auf dem Wasser legen sich die Fische auf ein Stadium und eine Größe fest: Beides muss genau stimmen.
rule-sparse = Kommen nur wenige, sind die Fische nicht wählerisch: Stadium und Größe zählen weniger; im Zweifel lieber kleiner.
rule-first-days = Die Saison dieses Insekts hat kaum begonnen, und die Fische kennen die geflügelten noch nicht.
rule-last-days = Insekten, die spät in ihrer Saison schlüpfen, sind kleiner als die ersten.
rule-fast-water = Bewegtes Wasser lässt den Fischen wenig Zeit zum Hinsehen.
rule-slow-water = In langsamem Wasser sehen die Fische lange hin: Stadium und Größe zählen mehr.
rule-still-water = In stehendem Wasser brauchen Insekten lange zum Aufsteigen, und die Fische fangen sie unterwegs ab.
rule-dark = Im Dunkeln sehen die Fische Umrisse, keine Muster.
rule-dark-wing-pads = Nymphen mit schwarzen Flügelscheiden schlüpfen binnen eines Tages, oft noch am selben: Die Chancen für heute steigen.
rule-dark-wing-pads-nymph = Bis es so weit ist, sind reife Nymphen unruhig und driften.
rule-quiet-rises-spent = Gleichmäßige, ruhige Ringe und nichts in der Luft: Sterbende Spinner liegen flach im Film.
rule-quiet-rises-left-over = Die Fische steigen, obwohl nichts schlüpft: Spinner eines früheren Flugs können noch vorbeitreiben.
rule-quiet-rises-midges = Gleichmäßige, ruhige Ringe und nichts in der Luft gelten oft Zuckmücken dicht unter dem Film.
rule-quiet-rises-no-hatch = Nichts in der Luft: Dem Schlupf dieses Insekts gelten die Ringe nicht.
rule-bubble-after-rise = Eine Blase bleibt, wo ein Fisch mit der Nahrung Luft genommen hat: Er nimmt von der Oberfläche.
rule-deep-flashes = Fische, die sich am Grund drehen und aufblitzen, nehmen, was dort driftet.
rule-duns-ignored = Duns treiben unberührt vorbei, während Fische steigen: Sie nehmen das Stadium davor oder ein anderes Insekt.
rule-late-refusals = Fische, die kommen und im letzten Moment abdrehen, mögen, was sie von weitem sehen: Versuch zuerst eine Größe kleiner.

# Die Regeln: was als Nächstes anzusehen ist.

check-no-forecast = Dreh ein paar Steine um und sieh nach, was in der Drift und in den Spinnennetzen am Ufer ist.
check-look-first = Fang eines, bevor du etwas anbindest: Miss den Körper ohne die Schwanzfäden, vergleiche, setz es zurück.
check-crawl-out = Such leere Häute an Steinen und Stängeln am Rand.
check-lays-on-surface = Bei Wind über etwa 20 km/h oder an einem kalten Abend kommt der Spinnerfall vielleicht spät oder gar nicht.
check-lays-under-water = Such Spinner, die an herausragenden Steinen hinabsteigen.
check-heavy = Such an einem starken Tag nach einem zweiten Insekt unter den vielen: Vielleicht nehmen die Fische das seltenere.
check-sparse = Verweigert der erste Fisch, geh eine Größe kleiner, bevor du etwas anderes änderst.
check-dark-wing-pads = Komm in einer Stunde zu denselben Steinen zurück: Leere Häute oder weniger dunkle Flügelscheiden heißen, dass sie unterwegs sind.
check-quiet-rises-spent = Sieh gegen das Licht die Schaumlinien entlang: Flach liegende Flügel sieht man nur von tief unten.
check-quiet-rises-midges = Halte ein feines Netz eine Minute in die Oberflächendrift: Zuckmücken sind zu klein, um sie vom Ufer aus zu sehen.
check-bubble-after-rise = Behalte einen Fisch und ein treibendes Insekt zusammen im Auge, bis es weg ist: War es obenauf?
check-deep-flashes = Achte darauf, ob das Aufblitzen höher wandert: Dann wechsle von der Nymphe zum Emerger.
check-duns-ignored = Lass die Duns vorbei und sieh, was mit ihnen kommt: ein kleineres Insekt oder halb abgestreifte Häute im Film.
check-late-refusals = Achte in der letzten Sekunde vor dem Abdrehen auf Furchen der Fliege; ändere dann die Größe vor dem Stadium.

# Nachahmungen.

imitation-larva = Larve
imitation-nymph = Nymphe
imitation-nymph-fished-near-the-edge = Nymphe, am Rand geführt
imitation-floating-nymph = schwimmende Nymphe
imitation-pupa-fished-near-the-edge = Puppe, am Rand geführt
imitation-rising-pupa = aufsteigende Puppe
imitation-soft-hackle-wet-swung = Nassfliege mit weicher Hechel, schwingend
imitation-trailing-shuck-emerger-in-the-film = Emerger mit hängender Hülle, im Film
imitation-parachute-dun = Parachute-Dun
imitation-drowned-dun = ertrunkener Dun
imitation-sunken-female = versunkenes Weibchen
imitation-egg-laying-adult = eierlegendes Weibchen
imitation-skittering-adult = über das Wasser huschendes Insekt
imitation-adult = geflügeltes Insekt
imitation-upright-spinner = aufrechter Spinner
imitation-spent-spinner = liegender Spinner
source-from-memory-common-trade-knowledge = aus dem Gedächtnis, allgemeines Wissen der Fliegenfischer

# Merkmale von Insekten.

flights-evening = abends
flights-afternoon = nachmittags
flights-dusk = in der Dämmerung
flights-midday = mittags
flights-afternoon-to-dusk = nachmittags bis zur Dämmerung
flights-evening-to-dusk = abends bis zur Dämmerung
flights-evening-or-night = abends oder nachts
flights-late-afternoon-to-dusk = spätnachmittags bis zur Dämmerung
flights-midday-to-evening = mittags bis abends
flights-late-morning-to-midday = spätvormittags bis mittags
laying-surface-dip = tupft die Eier auf die Oberfläche
laying-surface-mass = legt sie auf einmal auf die Oberfläche
laying-dive = taucht ab
laying-abdomen-dip-from-stone = mit dem Hinterleib im Wasser, von einem Stein aus
laying-surface-or-dive = auf der Oberfläche oder unter Wasser
laying-terrestrial-or-edge = an Land oder am Rand
habit-crawler = krabbelt
habit-swimmer = schwimmt
habit-clinger = klammert sich an
habit-burrower = gräbt
habit-burrower-sprawler = gräbt oder liegt ausgestreckt
habit-case-crawler = krabbelt mit Köcher
habit-case-clinger = klammert sich mit Köcher an
habit-case-saddle = mit sattelförmigem Köcher
habit-net-spinner = spinnt Netze
habit-free-living = lebt frei, ohne Köcher
# Die Regeln von Wetter und Wasserstand.

rule-wind-holds-flight = Bei Wind bleiben Spinner im Laub: Der Flug kommt später oder gar nicht.
rule-wind-forecast-for-flight = Für die Dämmerung ist Wind vorhergesagt; die Chance des Flugs ist dafür schon gesenkt.
rule-wind-blows-duns-in = Sie schlüpft an Land, aber Wind weht einen Teil der Duns aufs Wasser.
rule-wind-on-still-water = Wind treibt auf stehendem Wasser, was schwimmt, an ein Ufer.
rule-rain-holds-flight = Bei Regen bleiben Spinner im Laub.
rule-rain-traps-duns = Regen nässt die Flügel: Mehr bleiben im Film hängen oder ertrinken, bevor sie fliegen.
rule-cold-damp-duns-sit = An kalten, feuchten Tagen sitzen die Duns kleiner Schwimmer länger auf dem Wasser.
rule-hot-dry-duns-leave = An heißen, trockenen Tagen verlassen Duns das Wasser sofort: Fische nehmen, was noch im Film ist.
rule-bright-sun-deeper = Bei greller Sonne stehen Fische tiefer und im Schatten und sehen länger hin, was treibt.
rule-falling-water = Fallendes, klarer werdendes Wasser lockt Fische von den Rändern zurück zu dem, was driftet.
rule-falling-water-winged = In noch nicht ganz klarem Wasser wird die geführte Nassfliege leichter gefunden als das, was schwimmt.
rule-rising-water = Steigendes Wasser spült Nymphen los, ertränkt, was schwimmt, und treibt Fische an die Ränder.
check-wind-holds-flight = Such im Windschatten von Bäumen und hohen Ufern und warte, bis der Wind nachlässt: Dort sammeln sich die Flüge, oder sie kommen spät.
check-wind-forecast-for-flight = Such im Windschatten von Bäumen und hohen Ufern und warte, bis der Wind nachlässt: Dort sammeln sich die Flüge, oder sie kommen spät.
check-wind-on-still-water = Geh an das Ufer, auf das der Wind steht, wenn Wellen und Grund es erlauben: Dort sammelt sich, was schwimmt.
check-bright-sun-deeper = Fang mit der Schattenseite und bewegtem Wasser an und halte deinen eigenen Schatten von beidem fern.
check-rising-water = Geh jetzt aus dem Wasser und bleib draußen, solange es steigt oder trüb wird: Fisch langsame Ränder vom Ufer aus oder geh heim.

# Arten von Problemen, und was dagegen zu tun ist.

problem-malformed-body = Der Inhalt ist kein JSON
problem-bad-query = Eine Angabe in der Adresse ist falsch
problem-bad-request = Die Anfrage ist nicht zu verstehen
problem-idempotency-key-needed = Idempotency-Key fehlt oder hat nicht die richtige Form
problem-unauthenticated = Ein gültiges Token ist nötig
problem-forbidden = Das Token erlaubt das nicht
problem-not-found = Hier ist nichts
problem-method-not-allowed = So lässt sich diese Adresse nicht benutzen
problem-not-acceptable = In keiner der verlangten Formen zu haben
problem-conflict = Das widerspricht dem, was gespeichert ist
problem-precondition-failed = Es wurde inzwischen geändert
problem-too-large = Der Inhalt ist zu groß
problem-unsupported-media-type = Diese Art von Datei wird hier nicht gelesen
problem-invalid-document = Das Dokument verletzt Regeln
problem-idempotency-key-reused = Der Idempotency-Key wurde schon mit anderem Inhalt benutzt
problem-precondition-required = If-Match ist nötig
problem-too-many-requests = Zu viele Anfragen
problem-internal = Der Dienst hat versagt
problem-unavailable = Zurzeit nicht erreichbar
problem-help-malformed-body = Sende ein JSON-Objekt in UTF-8.
problem-help-bad-query = Siehe errors: Eine Angabe ist unbekannt, steht zweimal da oder hat einen Wert außerhalb ihres Bereichs.
problem-help-bad-request = Prüf die Adresse und die Kopfzeilen.
problem-help-idempotency-key-needed = Sende einen Idempotency-Key aus 16 bis 255 druckbaren ASCII-Zeichen, für alles Neue einen neuen.
problem-help-unauthenticated = Sende „Authorization: Bearer subimago_...“ mit einem Token, das weder abgelaufen noch widerrufen ist.
problem-help-forbidden = Frag jemanden, der das Gewässer betreut.
problem-help-not-found = Die Adresse ist falsch, oder was sie nennt, gibt es nicht oder ist nicht für dich bestimmt.
problem-help-method-not-allowed = Nimm eine der Methoden, die Allow nennt.
problem-help-not-acceptable = Nenne in Accept eine Form, die es unter dieser Adresse gibt, oder lass Accept weg.
problem-help-conflict = Lies, was gespeichert ist, und entscheide neu.
problem-help-precondition-failed = Lies es noch einmal, wiederhole die Änderung an der neuen Fassung und sende deren ETag in If-Match.
problem-help-too-large = JSON endet bei 1 MiB, Tabellen bei 50 MiB.
problem-help-unsupported-media-type = Nimm eine der Formen, die Accept nennt.
problem-help-invalid-document = Siehe errors: Jeder Fehler nennt seine Stelle als JSON Pointer.
problem-help-idempotency-key-reused = Mach für etwas Neues einen neuen Schlüssel.
problem-help-precondition-required = Lies die Ressource und sende ihr ETag in If-Match, damit keine Änderung von anderen verloren geht.
problem-help-too-many-requests = Warte so lange, wie Retry-After sagt.
problem-help-internal = Nenne dem Betreiber die Nummer der Anfrage.
problem-help-unavailable = Versuch es nach einigen Sekunden noch einmal; was du gesendet hast, wurde nicht gespeichert.

# Was gerade geschah.

happened-nothing-served = Unter dieser Adresse gibt es keine Seite.
happened-other-method = Allow nennt die Methoden, die es hier gibt.
happened-body-too-large = Der Inhalt ist größer, als hier gelesen wird.
happened-other-media = Accept nennt, was gelesen wird.
happened-too-slow = Die Antwort hat zu lange gedauert.
happened-not-understood = Die Anfrage ist nicht zu verstehen.
happened-broken = Im Dienst ging etwas kaputt; die Nummer der Anfrage findet es im Protokoll.
happened-address-unreadable = Die Adresse lässt sich nicht lesen.
happened-query-unreadable = Was hinter dem Fragezeichen der Adresse steht, ist kein Formulartext in UTF-8.
happened-database-busy = Die Datenbank ist beschäftigt.
happened-disk-full = Die Festplatte ist voll.
happened-database-silent = Die Datenbank antwortet nicht.
no-such-watershed = Ein solches Gewässer gibt es hier nicht.
no-such-reach = Eine solche Strecke hat dieses Gewässer nicht.
no-such-taxon = Ein solches Insekt hat dieses Gewässer nicht.
no-such-kind-of-problem = Eine solche Art von Problem gibt es nicht.

# Ordnungen, und wissenschaftliche Namen von Gruppen mit englischen Wörtern darin.

order-ephemeroptera = Eintagsfliegen
order-plecoptera = Steinfliegen
order-trichoptera = Köcherfliegen
order-diptera = Zweiflügler
named-baetis-vernus-scambus-group = Baetis vernus / scambus, Gruppe
named-stenacron-interpunctatum-group = Stenacron interpunctatum, Gruppe
named-ephemerella-invaria-group-incl-dorothea = Ephemerella invaria mit dorothea, Gruppe
named-limnephilidae-late-summer-and-autumn = Limnephilidae, Spätsommer und Herbst
named-isoperla-perlodidae-small-yellow = Isoperla / kleine gelbe Perlodidae
named-capnia-allocapnia-and-other-winter-stoneflies = Capnia / Allocapnia und verwandte
named-chironomidae-river-and-lake-midges = Chironomidae, aus Fluss und See
