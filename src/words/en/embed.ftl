# What other sites show.

likelihood-very-likely = very likely
likelihood-likely = likely
likelihood-perhaps = perhaps
embed-title = Insects expected on { $water }
embed-nothing = nothing is likely
embed-hours = { $chance }, { $from } to { $to }
embed-today = Today
embed-tomorrow = Tomorrow
embed-question = As of { $date }: the chance that one person, watching two hours at the likeliest time, sees any. A forecast is not a safety statement.
embed-stale = Out of date: no water temperature has come in lately.
embed-more-reaches = and { $count } more reaches on the page
snippet-frame-title = Insects expected
snippet-image-title = Insects expected in the coming days
snippet-title = Show { $water } on your own site
snippet-image-alone = As an image, which every site may show. (A frame that grows with its text is there as well: ask the operator of this service to name your site in { $setting }.)
snippet-frame-anywhere = As a frame that grows with its text, on any site:
snippet-frame = As a frame that grows with its text, on { $sites }:
snippet-image = As an image, where frames are not allowed:
snippet-options = Add { $light } or { $dark }, { $reach }, { $taxon } or { $units } to the address. No cookies are set.
