# Generations, stages of life, kinds of water, numbers.

generation-1 = first generation
generation-2 = second generation
generation-3 = third generation
generation-4 = fourth generation
generation-5 = fifth generation
generation-6 = sixth generation
generation-7 = seventh generation
generation-8 = eighth generation
generation-9 = ninth generation
generation-later = generation { $number }

stage-nymph = nymph
stage-pupa = pupa
stage-emerger = emerger
stage-dun = dun
stage-adult = adult
stage-spinner = spinner
stage-spent = spent

water-type-riffle = riffle
water-type-run = run
water-type-pool = pool
water-type-slow-margin = slow margin
water-type-still-water = still water

class-none = none
class-sparse = sparse
class-moderate = moderate
class-heavy = heavy
class-meaning-sparse = some seen in ten minutes of watching
class-meaning-moderate = always a few in view
class-meaning-heavy = more than one can count

percent-under = under 1
percent-over = over 99
