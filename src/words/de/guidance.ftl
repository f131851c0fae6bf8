# Was anbinden.

guidance-title = Was anbinden
guidance-lead = Für { $time } Uhr, wenn heute am meisten zu erwarten ist: { $imitations }.
guidance-stage = Am ehesten nehmen die Fische jetzt dieses Stadium: { $stage } ({ $chance } von 100); hat ein Stadium mehrere Nachahmungen, teilen sie sich seine Chance.
guidance-taken = Am ehesten genommen: { $insects }.
guidance-stand = Guter Platz: { $water }.
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
