mod faults;
mod library;
mod reading;
