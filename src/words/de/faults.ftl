# Was an einer Angabe in der Adresse falsch ist.

fault-known = Diese Angabe kennt die Seite nicht.
fault-once = Diese Angabe darf nur einmal vorkommen.
fault-yes-or-no = Erlaubt sind true und false.
fault-date = Gib ein Datum wie 2026-05-20 an, aus den Jahren { $first } bis { $last }.
fault-time = Gib eine Uhrzeit wie 18:30 an.
fault-whole = Gib eine ganze Zahl von { $low } bis { $high } an.
fault-length = Gib eine Länge von 0,5 bis 100 mm an.
fault-tails = Möglich sind 0, 2 oder 3: Wo nur ein Faden zu sehen ist, sind die anderen abgebrochen.
fault-either = Erlaubt sind { $one } und { $other }.
fault-one-of = Wähle etwas aus der Liste; in der Adresse: { $words }.
fault-theme-of-image = Erlaubt sind light und dark: Ein Bild kann sich nicht nach dem Gerät richten.
fault-slug = Erlaubt sind 1 bis 64 Buchstaben ohne Umlaute, Ziffern, „-“ und „_“.
fault-reach-here = Eine Strecke { $slug } gibt es an diesem Gewässer nicht.
fault-taxon-here = Ein Insekt { $slug } gibt es an diesem Gewässer nicht.
fault-other = Das lässt sich so nicht lesen:
fault-at = { $name }: { $fault }

# Die Seite, die an der Stelle der verlangten steht, und die Seiten der Arten von Problemen.

refused-address = Diese Teile der Adresse lassen sich nicht lesen.
refused-address-help = Berichtige die Adresse oder fang bei der Liste der Gewässer neu an.
refused-waters = Alle Gewässer
refused-status = Status { $status }, Anfrage { $request }.
problems-title = Arten von Problemen
problems-lead = Jede Ablehnung kommt für Programme als application/problem+json (RFC 9457), auf Englisch. Ihr Typ ist eine dieser Adressen.
problems-about = Arten von Problemen, mit denen die Schnittstelle antwortet.
problems-status = Status { $status }.
