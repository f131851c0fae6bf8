# Generationen, Lebensstadien, Arten von Wasser, Mengen.

generation-1 = erste Generation
generation-2 = zweite Generation
generation-3 = dritte Generation
generation-4 = vierte Generation
generation-5 = fünfte Generation
generation-6 = sechste Generation
generation-7 = siebte Generation
generation-8 = achte Generation
generation-9 = neunte Generation
generation-later = Generation { $number }

stage-nymph = Nymphe
stage-pupa = Puppe
stage-emerger = Emerger
stage-dun = Dun (Subimago)
stage-adult = geflügeltes Insekt
stage-spinner = Spinner (Imago)
stage-spent = sterbender Spinner

water-type-riffle = Rauschen
water-type-run = Züge
water-type-pool = Gumpen
water-type-slow-margin = langsame Ränder
water-type-still-water = stehendes Wasser

class-none = keine
class-sparse = vereinzelt
class-moderate = mäßig
class-heavy = stark
class-meaning-sparse = einige in zehn Minuten Zuschauen
class-meaning-moderate = immer ein paar im Blick
class-meaning-heavy = mehr, als man zählen kann

percent-under = unter 1
percent-over = über 99
