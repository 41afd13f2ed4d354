//! What a person or a program reads: one file per form.
