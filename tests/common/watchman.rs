//! An allocator that notes the largest piece of memory that each thread asked for.

use std::alloc::{GlobalAlloc, Layout, System};
use std::cell::Cell;

struct Watchman;

thread_local! {
    static LARGEST: Cell<usize> = const { Cell::new(0) };
}

/// Does `work` on this thread; gives what comes of it, and the largest piece of memory that it asked
/// for, in bytes.
pub fn watched<T>(work: impl FnOnce() -> T) -> (T, usize) {
    LARGEST.set(0);
    let done = work();
    (done, LARGEST.get())
}

fn note(bytes: usize) {
    // A thread that is ending has no place for the note any more.
    let _ = LARGEST.try_with(|largest| largest.set(largest.get().max(bytes)));
}

// SAFETY: every call is handed on unchanged to the system's allocator.
unsafe impl GlobalAlloc for Watchman {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        note(layout.size());
        unsafe { System.alloc(layout) }
    }

    unsafe fn alloc_zeroed(&self, layout: Layout) -> *mut u8 {
        note(layout.size());
        unsafe { System.alloc_zeroed(layout) }
    }

    unsafe fn realloc(&self, old: *mut u8, layout: Layout, bytes: usize) -> *mut u8 {
        note(bytes);
        unsafe { System.realloc(old, layout, bytes) }
    }

    unsafe fn dealloc(&self, old: *mut u8, layout: Layout) {
        unsafe { System.dealloc(old, layout) }
    }
}

#[global_allocator]
static WATCHMAN: Watchman = Watchman;
