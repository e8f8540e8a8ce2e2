//! Tests of the whole: the program's parts together, against closed forms and published numbers.

mod causes;
