//! Which addresses of the Internet protocol are public.

use std::net::{IpAddr, Ipv4Addr, Ipv6Addr};

/// Ranges of IPv4 that are not public, with their use: first address, bits, words.
const V4: [([u8; 4], u32, &str); 15] = [
    ([0, 0, 0, 0], 8, "this network"),
    ([10, 0, 0, 0], 8, "private"),
    ([100, 64, 0, 0], 10, "shared by carriers"),
    ([127, 0, 0, 0], 8, "loopback"),
    ([169, 254, 0, 0], 16, "link-local"),
    ([172, 16, 0, 0], 12, "private"),
    ([192, 0, 0, 0], 24, "protocol assignments"),
    ([192, 0, 2, 0], 24, "documentation"),
    ([192, 88, 99, 0], 24, "old relays"),
    ([192, 168, 0, 0], 16, "private"),
    ([198, 18, 0, 0], 15, "benchmarks"),
    ([198, 51, 100, 0], 24, "documentation"),
    ([203, 0, 113, 0], 24, "documentation"),
    ([224, 0, 0, 0], 4, "multicast"),
    ([240, 0, 0, 0], 4, "reserved"),
];

/// Ranges of IPv6 within 2000::/3 that are not public: first address, bits, words.
const V6: [(u128, u32, &str); 3] = [
    (0x2001_0000 << 96, 23, "protocol assignments"),
    (0x2001_0db8 << 96, 32, "documentation"),
    (0x3fff << 112, 20, "documentation"),
];

/// Why `address` is not a public one, if so. The list is that of the IANA registries of special-purpose
/// addresses; addresses that carry one of IPv4 are judged by it.
#[must_use]
pub fn not_public(address: IpAddr) -> Option<&'static str> {
    match address {
        IpAddr::V4(v4) => not_public_v4(v4),
        IpAddr::V6(v6) => not_public_v6(v6),
    }
}

fn not_public_v4(address: Ipv4Addr) -> Option<&'static str> {
    let bits = u32::from(address);
    let within = |first: [u8; 4], length: u32| (bits ^ u32::from(Ipv4Addr::from(first))) >> (32 - length) == 0;
    V4.iter().find(|(first, length, _)| within(*first, *length)).map(|(_, _, words)| *words)
}

fn not_public_v6(address: Ipv6Addr) -> Option<&'static str> {
    let bits = u128::from(address);
    if let Some(v4) = address.to_ipv4_mapped() {
        return not_public_v4(v4);
    }
    let carried = |shift: u32| Ipv4Addr::from((bits >> shift) as u32);
    match address.segments() {
        // Translated by a gateway of the local network (RFC 6052).
        [0x64, 0xff9b, 0, 0, 0, 0, _, _] => return not_public_v4(carried(0)),
        // Tunnelled (RFC 3056).
        [0x2002, ..] => return not_public_v4(carried(80)),
        _ => {}
    }
    if bits >> 125 != 0b001 {
        return Some("not in the public range");
    }
    let within = |first: u128, length: u32| (bits ^ first) >> (128 - length) == 0;
    V6.iter().find(|(first, length, _)| within(*first, *length)).map(|(_, _, words)| *words)
}
