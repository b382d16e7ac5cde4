pub(crate) mod batch;
pub(crate) mod compare;
pub(crate) mod exact;
mod explain;
pub(crate) mod monte;
mod number;
pub(crate) mod quasi;
pub(crate) mod rss;
pub(crate) mod worst;
