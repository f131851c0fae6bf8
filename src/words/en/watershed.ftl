# Pages of waters and reaches: words, tables, pictures.

home-lead = When the mayflies and their kin are expected on these waters.
home-empty = No water is set up yet. The operator declares one with { $command }.
home-holds = { $reaches ->
    [one] { $reaches } reach
   *[other] { $reaches } reaches
}, { $insects ->
    [one] { $insects } insect
   *[other] { $insects } insects
}
home-about = Forecasts of mayfly and other insect emergence, by water.

report-title = Report a visit
today-title = Today, { $date }
season-title = Season { $season }
season-all-reaches = All reaches together
season-one = The season
season-on-reach = The season on this reach
season-by-reach = Reach after reach
sheet-link = One sheet to print
skill-title = How good the forecasts are
seen-title = What did I just see?
card-link = A card for this evening, to print
days-title = The coming days

watershed-insects = Insects
watershed-reaches = Reaches
watershed-mostly = mostly { $water }
watershed-take = Take it with you
watershed-digest = The week as text: { $link }.
watershed-digest-link = plain, to be mailed
watershed-numbers = Numbers: { $link }.
watershed-numbers-link = forecasts as JSON
watershed-about = When water insects are expected on { $water }.
reach-about = When water insects are expected at { $reach }, { $water }.
reach-calendar = Calendar of this reach

subscribe-private = Calendar and news are for members: ask a keeper for an address of your own.
subscribe-calendar = Calendar: { $link }. Add this address to your calendar as a subscription; some take a day to follow changes. Add { $reach }, { $taxon }, { $class } or { $kind } for less.
subscribe-news = News: { $link }, for a feed reader.
subscribe-news-link = what is near or has moved, and notices

notices-title = From the keepers
notices-more = and { $count } more on the page.
notices-until-today = until today
notices-until = until { $day }

footing-prior = General knowledge of the insect; too few records here yet.
footing-records = { $records ->
    [one] { $records } record
   *[other] { $records } records
} from { $years ->
    [one] { $years } year
   *[other] { $years } years
}
footing-better = { $records }; with the water of the whole year known, better than going by the date alone.
footing-not-better = { $records }; even with the water of the whole year known, not shown to be better than going by the date alone.
footing-ahead-better = { $footing } Four weeks ahead: better than going by the date alone.
footing-ahead-no-difference = { $footing } Four weeks ahead: no clear difference from going by the date alone.
footing-ahead-worse = { $footing } Four weeks ahead: worse than going by the date alone.
sure-better = { $records }; four weeks ahead better than the date alone.
sure-no-difference = { $records }; four weeks ahead about as good as the date alone.
sure-worse = { $records }; four weeks ahead worse than the date alone.
when-range = { $range }, about { $middle }
when-open = from { $from }, about { $middle }
when-if-at-all = not before { $from }, if at all
when-not = not this season

table-insect = Insect
table-reach = Reach
table-season = Season in numbers
table-caption = Season in numbers. Ranges hold four chances in five.
table-caption-reaches = Season in numbers. Ranges hold four chances in five, from the earliest reach to the latest.
table-starts = Starts
table-fullest = Fullest
table-ends = Ends
table-today = Chance today
table-sure = How sure
table-over = over for the year
days-nothing = Nothing worth a row is expected in the coming { $days } days.
days-table = Coming days in numbers
days-caption = Chances in 100, for one person watching the two hours around the likeliest hour: of seeing any, and of moderate or heavy numbers.
days-day = Day
days-water = Water, { $unit }

picture-height = Height: how much to expect on a day.
picture-hatched = Hatched: when the start may fall, four chances in five; the upright line: as likely before as after. The table below holds the same dates.
picture-heights = The heights in numbers
picture-heights-caption = Height of each ridge on the first, the eleventh and the twenty-first of each month: how much to expect, from 0 (none) to 3 (heavy).
picture-today = today, { $day }
picture-starts = starts { $when }
picture-described = Starts { $starts }; fullest { $fullest }; ends { $ends }.
clock-title = Hours of today, { $day }, local clock
clock-water = Water: about { $middle } over the day, four chances in five between { $low } and { $high }.
clock-nothing = No insect of this reach has hours to show for today.
clock-hours = { $from } to { $to }, likeliest about { $likeliest }
