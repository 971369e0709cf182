mod contradictions;
mod faults;
mod library;
mod reading;
