# The frame of every page.

layout-news = News
layout-skip = Skip to the content
layout-site = Site
layout-waters = Waters
layout-about = About
layout-interface = API
layout-safety = A forecast is not a safety statement. Look at the water before you wade, and heed local notices.
layout-where = Where you are
layout-title = { $what } · Subimago

# Scales and lengths.

units-choice = Temperatures in { $celsius } or { $fahrenheit }.
units-lengths = { $from } to { $to } mm
