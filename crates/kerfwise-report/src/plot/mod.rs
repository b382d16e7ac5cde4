//! Results as pictures: SVG that stands alone or inside of a page.
//!
//! Every picture says in words what it shows (`<title>`, `<desc>`), writes its labels at the things
//! themselves, and tells them apart by shade and pattern rather than by hue.

mod axis;
mod bars;
mod batch;
mod chances;
mod compare;
mod improve;
mod picture;
mod settings;
mod study;
mod testcut;
mod watch;

pub use chances::Density;

#[cfg(test)]
mod tests;
