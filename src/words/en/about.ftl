# About the service, and cautions.

about-title = About Subimago
about-lead = Subimago forecasts when mayflies and other water insects emerge, from the temperature of the water, the length of the day, and what people saw and wrote down, blank visits included.
about-read = How to read a forecast
about-read-shares = Start, half and end are the days by which 5, 50 and 95 in 100 of the season's insects are out.
about-read-ranges = A range holds four chances in five. One time in five the truth lies outside it; that is not a fault.
about-read-chances = Chances for a day answer one question: what would one person see, watching the two hours around that day's likeliest hour, at usual flow and cloud?
about-read-counts = Where records are counts, the classes are the smallest, the middle and the largest third of all catches with any in them.
about-read-few = Where records are too few, the forecast rests on general knowledge of the insect and says so. Where it is not shown to be better than going by the date alone, it says that too.
about-people = Places and people
about-people-words = Reports are published by reach and day only: no spots, no hours, no notes, no names. This site sets no cookies and loads nothing from elsewhere. The { $form } keeps your token and the reports that are not yet sent in your browser, and nowhere else.
about-people-form = report form
about-cautions = Cautions
about-safety = A forecast is not a safety statement.
about-authorities = Follow local authorities and licensed guides.
about-machines = For machines
about-reference = Reference of the interface
about-openapi = its OpenAPI document
about-problems = kinds of problem
about-about = What Subimago forecasts, how to read it, and what to beware of.
