# The whole season, the sheet, the evening card.

season-of = { $water }, season { $season }
season-sheet = The season on one sheet to print
season-about = The whole season of water insects on { $water }.
season-page-title = Season, { $water }
season-starts = Starts by reach
season-starts-caption = When each insect starts, the reach that is earliest for most insects first

sheet-key = Ridge: how much to expect on a day, all reaches together. Hatched: when the start may fall, four chances in five. Hours are local; sizes are bodies without tails.
sheet-rows = The season in rows
sheet-caption = Insects by the date of their start
sheet-expected = Expected through the season
sheet-hour = Hour
sheet-safety = A forecast is not a safety statement: look at the water before you wade, heed local rules, clean, check and dry your gear between waters. Newer: { $address }
sheet-about = The season of water insects on { $water } on one sheet.
sheet-title = Season sheet, { $water }
sheet-about-day = about { $day }

card-title = { $reach }, evening of { $date }
card-fitting = Fits are under way: some insects may be missing.
card-nothing = Nothing is forecast for this evening.
card-caption = Insects of the evening, likeliest first; chances in 100 to see any
card-what = What
card-emerges = Emerges
card-spinners = Spinners
card-sure = How sure:
card-chances = Chances are of one person watching two hours.
card-safety = A forecast is not a safety statement. All cautions: { $about }. Newer: { $card }
card-about = What to expect on the evening of { $date } at { $reach }.
card-page-title = Evening card, { $reach }
card-stage = Stage
card-stages = about { $time }: { $stages }.
card-put-on = Put on:
