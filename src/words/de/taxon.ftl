# Die Seite eines Insekts.

stage-larva = Larve
rank-species = Art
rank-genus = Gattung
rank-group = Gruppe
rank-family = Familie
mode-surface = an der Oberfläche
mode-bottom = vom Grund aus
mode-crawl-out = kriecht an Land
mode-pupal-ascent = steigt als Puppe auf

taxon-by-reach = Strecke für Strecke
taxon-footing = Worauf die Vorhersage beruht
taxon-doubts = Zweifel
taxon-good = Wie gut sie war
taxon-about = Wann am Gewässer { $water } zu erwarten ist: { $insect }.
taxon-also = Auch genannt: { $names }.
taxon-names-source = Alltagsnamen: { $sources }.
taxon-heat = Wärme, die für dieses Insekt zählt, bisher in dieser Saison:
taxon-heat-more = { $sum } Gradtage ({ $unit }) bis zum { $date }, { $apart } mehr als bis zum selben Tag eines üblichen Jahres: { $standing }.
taxon-heat-fewer = { $sum } Gradtage ({ $unit }) bis zum { $date }, { $apart } weniger als bis zum selben Tag eines üblichen Jahres: { $standing }.
taxon-heat-other = { $standing } bis zum { $date }, gezählt nach: { $clock }.
taxon-as-usual = wie üblich
taxon-early = { $days ->
    [one] etwa { $days } Tag früher
   *[other] etwa { $days } Tage früher
}
taxon-late = { $days ->
    [one] etwa { $days } Tag später
   *[other] etwa { $days } Tage später
}
taxon-clocks = Sie richtet sich nach: { $clocks }.
taxon-and = {", und "}
clock-thermal = Wärme des Wassers
clock-calendar = Datum
clock-photothermal = Wärme, gewichtet nach der Tageslänge
clock-gated = Wärme, sobald die Tage lang genug sind
taxon-life = Die Stadien am Wasser
life-surface-nymph = lebt am Grund und schwimmt oder driftet nach oben, wenn ihre Zeit gekommen ist
life-surface-emerger = hängt im Oberflächenfilm, während sich das geflügelte Insekt aus der Haut befreit
life-surface-dun = treibt auf dem Wasser, bis die Flügel trocken sind, und fliegt dann ans Ufer
life-surface-spinner = das fertige Insekt: Es paart sich in der Luft und kehrt zur Eiablage ans Wasser zurück
life-bottom-nymph = lebt am Grund und verlässt dort oder auf dem Weg nach oben ihre Haut
life-bottom-emerger = steigt mit schon freien Flügeln durch das Wasser auf
life-bottom-dun = ist nur kurz auf der Oberfläche
life-bottom-spinner = das fertige Insekt: Es paart sich in der Luft und kehrt zur Eiablage ans Wasser zurück
life-crawl-out-nymph = sammelt sich am Rand und kriecht auf Steine, Pflanzen oder das Ufer
life-crawl-out-adult = trocknet seine Flügel an Land; über dem Wasser ist es vor allem zur Eiablage
life-pupal-ascent-larva = lebt am Grund, oft in einem Köcher oder Netz, und schließt sich ein, um zur Puppe zu werden
life-pupal-ascent-pupa = befreit sich und schwimmt zur Oberfläche oder zum Rand
life-pupal-ascent-adult = verlässt die Puppenhaut, oft in Sekunden, und kehrt später zur Eiablage zurück

trait-range = { $from } bis { $to }
trait-season = Übliche Saison
trait-base = Geringste Wärme zum Wachsen
trait-water = Wasser beim Schlupf
trait-hour = Stärkste Stunde, nach der Sonne
trait-flights = Flüge zur Eiablage
trait-leaves = Verlässt das Wasser
trait-lays = Eiablage
trait-habit = Lebensweise unter Wasser
trait-generations = Generationen
trait-body = Körper ohne Schwanzfäden
trait-hooks = Hakengröße
trait-likes = Mag
trait-region = Region, für die diese Werte gelten
traits-title = Was darüber bekannt ist
traits-none = Es sind keine Merkmale hinterlegt; die Vorhersagen beruhen allein auf Funden.
traits-table = Merkmale mit ihren Quellen
traits-caption = Merkmale und woher jeder Wert stammt
traits-trait = Merkmal
traits-value = Wert
traits-source = Quelle

doubt-few-blanks = Vor den ersten Insekten gibt es zu wenige Besuche ohne Fund: Es zählt allein das Vorwissen.
doubt-base-below-zero = Die Grundtemperatur läge unter 0 °C: Vielleicht bestimmt hier nicht die Wärme den Schlupf.
doubt-apart = Wärme erklärt die Tage nicht: Jahre und Strecken liegen { $hot } Tage auseinander, wenn Wärme gezählt wird, { $plain }, wenn Tage gezählt werden.
doubt-no-gain = In weggelassenen Jahren half die Wärme nicht: Die Vorhersage geht allein nach dem Datum.
doubt-calendar = Wärme bestimmt hier den Schlupf nicht: In weggelassenen Jahren war das Datum allein besser.
doubt-generations = Die Funde zeigen zwei Generationen: eine um den { $first }, eine um den { $second }; trag für das Insekt zwei ein.
doubt-season-warmth = Hier gibt es zu wenige Funde: Die übliche Zeit seiner Region ist an der üblichen Wärme dieses Wassers abgelesen.
doubt-season-latitude = Hier gibt es zu wenige Funde: Die übliche Zeit seiner Region ist nach der geografischen Breite verschoben.
doubt-season-altitude = Hier gibt es zu wenige Funde: Die übliche Zeit seiner Region ist nach geografischer Breite und Höhe verschoben.
doubt-season-kept = Hier gibt es zu wenige Funde: Die übliche Zeit seiner Region gilt unverschoben, denn Wärme bestimmt sie nicht.
doubt-season-south = Seine Zeit ist für die Südhalbkugel um ein halbes Jahr gedreht.
