//! The local service: pages and API.
