//! Clocks of logs: seconds, times of day, dates with times.

use super::sheet::number;

/// Seconds of a day.
pub const DAY_S: f64 = 86_400.0;

/// What a clock wrote, in seconds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Clock {
    /// A plain number.
    Plain(f64),
    /// A time of day without a date.
    OfDay(f64),
    /// Since 1970.
    Dated(f64),
}

impl Clock {
    /// The seconds.
    #[must_use]
    pub fn seconds(self) -> f64 {
        match self {
            Clock::Plain(seconds) | Clock::OfDay(seconds) | Clock::Dated(seconds) => seconds,
        }
    }
}

/// A cell as a clock: plain seconds with the decimal sign of the log, `h:m:s`, or a date with a time of day (ISO 8601, or
/// day.month.year), as seconds since 1970 in the clock that wrote it; a zone is taken off. `None` for anything else.
#[must_use]
pub fn read(cell: &str, decimal_comma: bool) -> Option<Clock> {
    let cell = cell.trim();
    let plain = |text: &str| -> Option<f64> {
        let text = text.replace(',', ".");
        let fit = text
            .bytes()
            .all(|b| b.is_ascii_digit() || matches!(b, b'.' | b'-' | b'+' | b'e' | b'E'));
        text.parse::<f64>().ok().filter(|s| fit && s.is_finite())
    };
    if !cell.contains(':') {
        let (value, unit) = number(cell, decimal_comma)?;
        return matches!(unit, "" | "s").then_some(Clock::Plain(value));
    }
    let (date, time) = match cell.split_once(['T', ' ']) {
        Some((date, time)) => (Some(date), time.trim()),
        None => (None, cell),
    };
    let (clock, zone_s) = zone(time)?;
    let parts: Vec<f64> = clock.split(':').map(plain).collect::<Option<_>>()?;
    let (h, m, s) = match parts.as_slice() {
        [h, m] => (*h, *m, 0.0),
        [h, m, s] => (*h, *m, *s),
        _ => return None,
    };
    if !((0.0..24.0).contains(&h) && (0.0..60.0).contains(&m) && (0.0..61.0).contains(&s)) {
        return None;
    }
    let of_day = 3600.0 * h + 60.0 * m + s - zone_s;
    match date {
        Some(date) => Some(Clock::Dated(days(date)? * DAY_S + of_day)),
        None => Some(Clock::OfDay(of_day)),
    }
}

/// A time without its zone, and the zone in seconds east.
fn zone(time: &str) -> Option<(&str, f64)> {
    if let Some(clock) = time.strip_suffix(['Z', 'z']) {
        return Some((clock, 0.0));
    }
    let Some(at) = time.rfind(['+', '-']) else {
        return Some((time, 0.0));
    };
    let digits: String = time[at + 1..].chars().filter(char::is_ascii_digit).collect();
    let number = digits.parse::<f64>().ok()?;
    let (h, m) = match digits.len() {
        1 | 2 => (number, 0.0),
        4 => ((number / 100.0).floor(), number % 100.0),
        _ => return None,
    };
    let east = 3600.0 * h + 60.0 * m;
    Some((&time[..at], if time[at..].starts_with('-') { -east } else { east }))
}

/// Days from 1970 to a date (proleptic Gregorian calendar; after the algorithm that counts years from March, from
/// memory).
fn days(date: &str) -> Option<f64> {
    let parts: Vec<&str> = date.split(['-', '.', '/']).collect();
    let [a, b, c] = parts.as_slice() else { return None };
    let (year, month, day) = if a.len() == 4 { (a, b, c) } else { (c, b, a) };
    let number = |text: &str| text.parse::<i64>().ok();
    let (mut year, month, day) = (number(year)?, number(month)?, number(day)?);
    if !(1..=12).contains(&month) || !(1..=31).contains(&day) || !(0..=9999).contains(&year) {
        return None;
    }
    if year < 100 {
        year += 2000;
    }
    let y = if month <= 2 { year - 1 } else { year };
    let era = y.div_euclid(400);
    let of_era = y - 400 * era;
    let of_year = (153 * (month + if month > 2 { -3 } else { 9 }) + 2) / 5 + day - 1;
    let days = 365 * of_era + of_era / 4 - of_era / 100 + of_year + 146_097 * era - 719_468;
    Some(days as f64)
}

/// Times of day that go past midnight, made to go on: a step back of more than half a day is a new day. Plain seconds and
/// times with a date stay as they are.
#[must_use]
pub fn going_on(times: &[Option<Clock>]) -> Vec<Option<f64>> {
    let (mut last, mut days) = (None::<f64>, 0.0);
    let mut on = |time: Clock| {
        let Clock::OfDay(raw) = time else { return time.seconds() };
        if last.is_some_and(|last| raw < last - 0.5 * DAY_S) {
            days += DAY_S;
        }
        last = Some(raw);
        raw + days
    };
    times.iter().map(|time| time.map(&mut on)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clocks_of_shops_are_read() {
        let seconds = |cell: &str, comma: bool| read(cell, comma).map(Clock::seconds);
        // 2026-03-01 is day 20513 since 1970 (56 years of 365 days, 14 leap days, 59 days).
        let day = 20_513.0 * DAY_S;
        assert_eq!(seconds("2026-03-01T06:00:00.5", false), Some(day + 21_600.5));
        assert_eq!(seconds("2026-03-01 06:00:00,5", true), Some(day + 21_600.5));
        assert_eq!(seconds("01.03.2026 06:00:00", false), Some(day + 21_600.0));
        assert_eq!(seconds("2026-03-01T06:00:00+02:00", false), Some(day + 14_400.0));
        assert_eq!(seconds("2026-03-01T06:00:00Z", false), Some(day + 21_600.0));
        assert_eq!(seconds("06:00:14,25", true), Some(21_614.25));
        assert_eq!(seconds("12,5", true), Some(12.5));
        assert_eq!(seconds("12.5", false), Some(12.5));
        assert_eq!(seconds("12.5", true), None);
        for wrong in ["25:00:00", "noon", "2026-13-01T06:00:00", "6:61:00", ""] {
            assert_eq!(seconds(wrong, false), None, "{wrong}");
        }
        let of_day = [
            Some(Clock::OfDay(86_390.0)),
            None,
            Some(Clock::OfDay(4.0)),
            Some(Clock::OfDay(3.0)),
        ];
        assert_eq!(
            going_on(&of_day),
            [Some(86_390.0), None, Some(86_404.0), Some(86_403.0)]
        );
        for kind in [Clock::Plain, Clock::Dated] {
            let back = [Some(kind(90_000.0)), Some(kind(10.0))];
            assert_eq!(going_on(&back), [Some(90_000.0), Some(10.0)]);
        }
    }
}
