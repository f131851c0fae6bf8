# Was anbinden.

guidance-title = Was anbinden
guidance-lead = Für { $time } Uhr, wenn heute am meisten zu erwarten ist, mit Chancen von 100: { $imitations }.
guidance-lead-asked = Für { $time } Uhr, mit Chancen von 100: { $imitations }.
guidance-stage = Am ehesten nehmen die Fische jetzt dieses Stadium: { $stage } ({ $chance }); hat ein Stadium mehrere Nachahmungen, teilen sie sich seine Chance.
guidance-taken = Am ehesten genommen, von 100: { $insects }.
guidance-stand = Gute Plätze: { $water }.
guidance-stages = Lebensstadien nach der Chance, dass die Fische sie nehmen
guidance-stage-head = Stadium
guidance-odds-head = Chance von 100
guidance-look = Zuerst hinsehen
guidance-why = Warum
guidance-then = {"; dann "}
guidance-two-about = Zwei können unterwegs sein: { $first } und { $second }. Finde heraus, welches die Fische nehmen.
size-both = Größe: Körper { $length }, Hakengröße { $from } bis { $to }.
size-body = Größe: Körper { $length }.
size-hooks = Größe: Hakengröße { $from } bis { $to }.
size-unknown = Die Größe steht nicht in der Tabelle: Miss eines.

# Am Ufer gefragt.

bank-title = Was anbinden?
bank-lead = Sag, was du an der Strecke { $reach } siehst; jedes Häkchen verschiebt die Chancen.
bank-about = Was zu einer Stunde anzubinden ist, nach der Vorhersage und nach dem, was Fische, Insekten, Wetter und Wasser zeigen.
bank-signs = Fische und Insekten
bank-conditions = Wetter und Wasser
bank-send = Vorschlag zeigen
bank-nothing = Für diese Strecke und diesen Tag ist keine Vorhersage veröffentlicht.
bank-ask = Sagen, was am Ufer zu sehen ist
sign-dark-wing-pads = Nymphen unter Steinen haben schwarze Flügelscheiden
sign-quiet-rises-empty-air = gleichmäßige Steigringe, und nichts in der Luft
sign-bubble-after-rise = nach dem Steigen bleibt eine Blase
sign-deep-flashes = Fische drehen sich und blitzen nahe am Grund
sign-duns-ignored = Duns treiben unberührt vorbei, während Fische steigen
sign-late-refusals = Fische kommen hoch und drehen im letzten Moment ab
condition-windy = Wind, der das Wasser kräuselt
condition-rain = Regen
condition-cold-damp = kalt und feucht
condition-hot-dry = heiß und trocken
condition-bright-sun = grelle Sonne
condition-rising-water = das Wasser steigt
condition-falling-water = das Wasser fällt und wird klarer
