//! The language server: everything that knows the Language Server Protocol.

mod client;
mod documents;
mod ending;
mod position;
mod service;
mod transport;
mod uri;
