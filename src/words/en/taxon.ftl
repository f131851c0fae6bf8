# The page of one insect.

stage-larva = larva
rank-species = species
rank-genus = genus
rank-group = group
rank-family = family
mode-surface = surface
mode-bottom = bottom
mode-crawl-out = crawl out
mode-pupal-ascent = pupal ascent

taxon-by-reach = Reach by reach
taxon-footing = What the forecast rests on
taxon-doubts = Doubts
taxon-good = How good it has been
taxon-about = When { $insect } is expected on { $water }.
taxon-also = Also called { $names }.
taxon-names-source = Everyday names: { $sources }.
taxon-heat = Heat that counts for this insect, so far this season:
taxon-heat-more = { $sum } degree-days ({ $unit }) by { $date }, { $apart } more than by the same date of a usual year: { $standing }.
taxon-heat-fewer = { $sum } degree-days ({ $unit }) by { $date }, { $apart } fewer than by the same date of a usual year: { $standing }.
taxon-heat-other = { $standing } by { $date }, counted by { $clock }.
taxon-as-usual = as usual
taxon-early = { $days ->
    [one] about { $days } day early
   *[other] about { $days } days early
}
taxon-late = { $days ->
    [one] about { $days } day late
   *[other] about { $days } days late
}
taxon-clocks = It goes by { $clocks }.
taxon-and = {", and "}
clock-thermal = warmth of the water
clock-calendar = the date
clock-photothermal = warmth weighed by the length of the day
clock-gated = warmth once the days are long enough
taxon-life = Its stages at the water
life-surface-nymph = lives on the bottom and swims or drifts up when its time has come
life-surface-emerger = hangs in the surface while the winged insect works free of the skin
life-surface-dun = drifts on the surface until its wings are dry, then leaves for the bank
life-surface-spinner = the full adult: it mates in the air and returns to the water to lay
life-bottom-nymph = lives on the bottom and leaves its skin there or on the way up
life-bottom-emerger = rises through the water with its wings already free
life-bottom-dun = is on the surface only briefly
life-bottom-spinner = the full adult: it mates in the air and returns to the water to lay
life-crawl-out-nymph = gathers near the edge and crawls out on stones, plants or the bank
life-crawl-out-adult = dries its wings on land; it is over water mainly to lay its eggs
life-pupal-ascent-larva = lives on the bottom, many in a case or a net, and closes itself in to become a pupa
life-pupal-ascent-pupa = cuts itself free and swims to the surface or to the edge
life-pupal-ascent-adult = leaves the pupal skin, often within seconds, and returns later to lay

trait-range = { $from } to { $to }
trait-season = Usual season
trait-base = Least warmth for growth
trait-water = Water when it emerges
trait-hour = Fullest hour, by the sun
trait-flights = Egg-laying flights
trait-leaves = Leaves the water
trait-lays = Lays its eggs
trait-habit = Habit under water
trait-generations = Generations
trait-body = Body without tails
trait-hooks = Hook sizes
trait-likes = Likes
trait-region = Region these values speak of
traits-title = What is known of it
traits-none = No traits are on file; its forecasts rest on records alone.
traits-table = Traits with their sources
traits-caption = Traits, with where each value comes from
traits-trait = Trait
traits-value = Value
traits-source = Source

doubt-few-blanks = records hold too few empty visits before the first insects: prior used alone
doubt-base-below-zero = the base temperature runs below 0 C: warmth may not drive this taxon here
doubt-apart = warmth does not explain the dates: years and reaches lie { $hot } days apart when warmth is counted, { $plain } when days are
doubt-no-gain = in years left out warmth added nothing: the forecast goes by the date alone
doubt-calendar = warmth does not drive this taxon here: in years left out the plain calendar did better
doubt-generations = records hold two generations: one about { $first }, one about { $second }; give the taxon two broods
doubt-season-warmth = too few records here: the usual season of its region is read on this water's usual warmth
doubt-season-latitude = too few records here: the usual season of its region is moved by latitude
doubt-season-altitude = too few records here: the usual season of its region is moved by latitude and altitude
doubt-season-kept = too few records here: the usual season of its region stands unmoved, since warmth does not lead it
doubt-season-south = its season is turned by half a year for the southern hemisphere
