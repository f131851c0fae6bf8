# What to put on.

guidance-title = What to put on
guidance-lead = For { $time }, when most is expected today: { $imitations }.
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
