# What tables of the program say stands there in English; other languages have it here, by the names of rows.


