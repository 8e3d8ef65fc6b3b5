//! Features by name: an enum whose order is the order in which a network takes them, so that names, order and values
//! can't come apart.

/// Declares an enum of features with their names, in the order in which a network takes them.
macro_rules! features {
    ($(#[$attribute:meta])* $visibility:vis enum $enum:ident { $($variant:ident = $name:literal,)+ }) => {
        $(#[$attribute])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        $visibility enum $enum { $(#[doc = $name] $variant,)+ }

        impl $enum {
            /// All of them, in their order.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];
            /// Their names, in their order.
            pub const NAMES: &'static [&'static str] = &[$($name),+];
            /// How many there are.
            pub const COUNT: usize = Self::ALL.len();

            /// The values of all features, each in its place.
            pub fn placed<T: Copy + Default>(values: [(Self, T); Self::COUNT]) -> [T; Self::COUNT] {
                let mut placed = [T::default(); Self::COUNT];
                for (feature, value) in values {
                    placed[feature as usize] = value;
                }
                placed
            }
        }
    };
}

pub(crate) use features;
