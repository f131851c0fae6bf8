# What to put on.

guidance-title = What to put on
guidance-lead = For { $time }, when most is expected today: { $imitations }.
guidance-lead-asked = For { $time }: { $imitations }.
guidance-stage = Fish are likeliest at the { $stage } ({ $chance } in 100); a stage that has several imitations shares its odds among them.
guidance-taken = Most likely taken: { $insects }.
guidance-stand = Stand by: { $water }.
guidance-stages = Life stages by the odds that fish are at them
guidance-stage-head = Stage
guidance-odds-head = Odds in 100
guidance-look = Look first
guidance-why = Why
guidance-then = {"; then "}
guidance-two-about = Two may be about: { $first } and { $second }. Find out which the fish take.
size-both = Size: body { $length }, hooks { $from } to { $to }.
size-body = Size: body { $length }.
size-hooks = Size: hooks { $from } to { $to }.
size-unknown = Its size is not in the table: measure one.

# Asked on the bank.

bank-title = What to put on?
bank-lead = Say what you see at { $reach }; every tick moves the odds.
bank-about = What to put on at an hour, by the forecast and by what fish, insects, weather and water show.
bank-signs = Fish and insects
bank-conditions = Weather and water
bank-send = Weigh it
bank-nothing = No forecast is published for this reach and day.
bank-ask = Say what you see on the bank
sign-dark-wing-pads = nymphs under stones have black wing pads
sign-quiet-rises-empty-air = steady rises, and nothing in the air
sign-bubble-after-rise = a bubble stays after the rise
sign-deep-flashes = fish turn and flash near the bottom
sign-duns-ignored = duns sail down untouched while fish rise
sign-late-refusals = fish come up and turn away at the last moment
condition-windy = wind that ruffles the water
condition-rain = rain
condition-cold-damp = cold and damp
condition-hot-dry = hot and dry
condition-bright-sun = bright sun
condition-rising-water = the water rises
condition-falling-water = the water falls and clears
