# What is wrong with a parameter of an address: said of it, in documents too.

fault-known = is not a parameter of this address
fault-once = must stand once
fault-yes-or-no = must be true or false
fault-date = must be a date as YYYY-MM-DD between { $first } and { $last }
fault-time = must be a time of day such as 18:30
fault-whole = must be a whole number from { $low } to { $high }
fault-length = must be a length in mm between 0.5 and 100
fault-tails = must be 0, 2 or 3: one that seems single has lost the others
fault-either = must be { $one } or { $other }
fault-one-of = must be one of { $words }
fault-theme-of-image = must be light or dark: an image cannot follow the reader
fault-slug = use 1 to 64 letters, digits, '-' or '_'
fault-reach-here = { $slug } is not a reach of this watershed
fault-taxon-here = { $slug } is not a taxon of this watershed
fault-other = This is not understood:
fault-at = { $name } { $fault }

# The page that stands in place of the one asked for, and the pages of the kinds of problem.

refused-address = These parts of the address cannot be read.
refused-address-help = Correct the address, or start again from the list of waters.
refused-waters = All waters
refused-status = Status { $status }, request { $request }.
problems-title = Kinds of problem
problems-lead = Every refusal is sent as application/problem+json (RFC 9457). Its type is one of these addresses.
problems-about = Kinds of problem that the interface answers with.
problems-status = Status { $status }.
