//! Values as bytes and back, for two ends of one program.
//!
//! Numbers as variable-length integers, texts and lists with their length in front, fractions as their bits: small, exact, and
//! the same on both ends. Keeps: bytes that are no such value are an error and never a panic or a large allocation
//! (`bytes_cut_anywhere_are_refused`).
//! Not here: which values there are (`wire`).

/// A value that can be carried.
pub trait Wire: Sized {
    /// Adds its bytes.
    fn put(&self, out: &mut Vec<u8>);

    /// Takes it from the front.
    fn take(from: &mut &[u8]) -> Result<Self, NotWire>;
}

/// The bytes are no such value.
#[derive(Debug, PartialEq, Eq)]
pub struct NotWire;

/// The bytes of a value.
pub fn bytes_of(value: &impl Wire) -> Vec<u8> {
    let mut out = Vec::new();
    value.put(&mut out);
    out
}

/// The value that is all of these bytes.
pub fn whole<T: Wire>(mut bytes: &[u8]) -> Result<T, NotWire> {
    let value = T::take(&mut bytes)?;
    if bytes.is_empty() { Ok(value) } else { Err(NotWire) }
}

impl Wire for u64 {
    fn put(&self, out: &mut Vec<u8>) {
        let mut rest = *self;
        while rest >= 0x80 {
            out.push(rest as u8 | 0x80);
            rest >>= 7;
        }
        out.push(rest as u8);
    }

    fn take(from: &mut &[u8]) -> Result<Self, NotWire> {
        let mut value = 0_u64;
        for shift in (0..64).step_by(7) {
            let (first, rest) = from.split_first().ok_or(NotWire)?;
            *from = rest;
            value |= u64::from(first & 0x7f) << shift;
            if first & 0x80 == 0 {
                return Ok(value);
            }
        }
        Err(NotWire)
    }
}

macro_rules! by_u64 {
    ($($number:ty),*) => {$(
        impl Wire for $number {
            fn put(&self, out: &mut Vec<u8>) {
                (*self as u64).put(out);
            }

            fn take(from: &mut &[u8]) -> Result<Self, NotWire> {
                u64::take(from)?.try_into().map_err(|_| NotWire)
            }
        }
    )*};
}
by_u64!(u16, u32, usize);

impl Wire for bool {
    fn put(&self, out: &mut Vec<u8>) {
        u64::from(*self).put(out);
    }

    fn take(from: &mut &[u8]) -> Result<Self, NotWire> {
        match u64::take(from)? {
            0 => Ok(false),
            1 => Ok(true),
            _ => Err(NotWire),
        }
    }
}

impl Wire for f64 {
    fn put(&self, out: &mut Vec<u8>) {
        out.extend(self.to_bits().to_le_bytes());
    }

    fn take(from: &mut &[u8]) -> Result<Self, NotWire> {
        let (first, rest) = from.split_first_chunk().ok_or(NotWire)?;
        *from = rest;
        Ok(f64::from_bits(u64::from_le_bytes(*first)))
    }
}

impl Wire for String {
    fn put(&self, out: &mut Vec<u8>) {
        self.len().put(out);
        out.extend(self.as_bytes());
    }

    fn take(from: &mut &[u8]) -> Result<Self, NotWire> {
        let size = usize::take(from)?;
        let (text, rest) = from.split_at_checked(size).ok_or(NotWire)?;
        *from = rest;
        String::from_utf8(text.to_vec()).map_err(|_| NotWire)
    }
}

impl<T: Wire> Wire for Vec<T> {
    fn put(&self, out: &mut Vec<u8>) {
        self.len().put(out);
        self.iter().for_each(|value| value.put(out));
    }

    fn take(from: &mut &[u8]) -> Result<Self, NotWire> {
        let n = usize::take(from)?;
        // Every value has a byte at least, so a length beyond the bytes is a lie.
        if n > from.len() {
            return Err(NotWire);
        }
        let mut values = Vec::new();
        for _ in 0..n {
            values.push(T::take(from)?);
        }
        Ok(values)
    }
}

impl<T: Wire> Wire for Option<T> {
    fn put(&self, out: &mut Vec<u8>) {
        out.push(u8::from(self.is_some()));
        if let Some(value) = self {
            value.put(out);
        }
    }

    fn take(from: &mut &[u8]) -> Result<Self, NotWire> {
        match u64::take(from)? {
            0 => Ok(None),
            1 => Ok(Some(T::take(from)?)),
            _ => Err(NotWire),
        }
    }
}

impl<A: Wire, B: Wire> Wire for (A, B) {
    fn put(&self, out: &mut Vec<u8>) {
        self.0.put(out);
        self.1.put(out);
    }

    fn take(from: &mut &[u8]) -> Result<Self, NotWire> {
        Ok((A::take(from)?, B::take(from)?))
    }
}

impl<T: Wire, E: Wire> Wire for Result<T, E> {
    fn put(&self, out: &mut Vec<u8>) {
        out.push(u8::from(self.is_ok()));
        match self {
            Ok(value) => value.put(out),
            Err(error) => error.put(out),
        }
    }

    fn take(from: &mut &[u8]) -> Result<Self, NotWire> {
        match u64::take(from)? {
            0 => Ok(Err(E::take(from)?)),
            1 => Ok(Ok(T::take(from)?)),
            _ => Err(NotWire),
        }
    }
}

/// Carries a struct field by field: `wire_struct!(Point { x, y })`. A field that is forgotten does not compile.
macro_rules! wire_struct {
    ($name:ident { $($field:ident),+ $(,)? }) => {
        impl Wire for $name {
            fn put(&self, out: &mut Vec<u8>) {
                let $name { $($field),+ } = self;
                $($field.put(out);)+
            }

            fn take(from: &mut &[u8]) -> Result<Self, NotWire> {
                Ok($name { $($field: Wire::take(from)?),+ })
            }
        }
    };
}

/// Carries one of several words: `wire_words!(Colour { Red, Blue })`. A word that is forgotten does not compile.
macro_rules! wire_words {
    ($name:ident { $($word:ident),+ $(,)? }) => {
        impl Wire for $name {
            fn put(&self, out: &mut Vec<u8>) {
                out.push(match self { $($name::$word => $name::$word as u8),+ });
            }

            fn take(from: &mut &[u8]) -> Result<Self, NotWire> {
                let place = u64::take(from)?;
                $(if place == $name::$word as u64 { return Ok($name::$word); })+
                Err(NotWire)
            }
        }
    };
}

/// Carries a type that has a text form of its own: `wire_text!(SkillCode)` needs `as_str` and `parse`.
macro_rules! wire_text {
    ($name:ident) => {
        impl Wire for $name {
            fn put(&self, out: &mut Vec<u8>) {
                self.as_str().to_owned().put(out);
            }

            fn take(from: &mut &[u8]) -> Result<Self, NotWire> {
                $name::parse(&String::take(from)?).ok_or(NotWire)
            }
        }
    };
}

pub(super) use {wire_struct, wire_text, wire_words};

#[cfg(test)]
mod tests {
    use super::*;

    type Sample = (Vec<(String, Option<f64>)>, Result<u32, usize>);

    fn sample() -> Sample {
        (vec![("é".into(), Some(0.1 + 0.2)), (String::new(), None)], Ok(300))
    }

    #[test]
    fn values_come_back_exactly() {
        assert_eq!(whole::<Sample>(&bytes_of(&sample())), Ok(sample()));
        for n in [0, 127, 128, u64::from(u32::MAX), u64::MAX] {
            assert_eq!(whole::<u64>(&bytes_of(&n)), Ok(n));
        }
    }

    #[test]
    fn bytes_cut_anywhere_are_refused() {
        let bytes = bytes_of(&sample());
        for end in 0..bytes.len() {
            assert_eq!(whole::<Sample>(&bytes[..end]), Err(NotWire), "{end}");
        }
        assert_eq!(whole::<Vec<String>>(&[0xff, 0xff, 0xff, 0xff, 0x0f]), Err(NotWire));
        assert_eq!(whole::<u32>(&bytes_of(&u64::MAX)), Err(NotWire));
    }
}
