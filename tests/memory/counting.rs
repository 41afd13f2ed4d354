//! An allocator that counts what all threads hold.

use std::alloc::{GlobalAlloc, Layout, System};
use std::sync::Mutex;
use std::sync::atomic::{AtomicIsize, Ordering};

struct Counting;

/// Bytes held now, bytes held at the most, and how often memory was asked for.
pub static HELD: AtomicIsize = AtomicIsize::new(0);
pub static MOST: AtomicIsize = AtomicIsize::new(0);
pub static TIMES: AtomicIsize = AtomicIsize::new(0);
/// One test counts at a time.
pub static TURN: Mutex<()> = Mutex::new(());

// SAFETY: everything is handed to the system's allocator; only sizes are counted.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        let held = HELD.fetch_add(layout.size() as isize, Ordering::Relaxed);
        MOST.fetch_max(held + layout.size() as isize, Ordering::Relaxed);
        TIMES.fetch_add(1, Ordering::Relaxed);
        unsafe { System.alloc(layout) }
    }

    unsafe fn dealloc(&self, pointer: *mut u8, layout: Layout) {
        HELD.fetch_sub(layout.size() as isize, Ordering::Relaxed);
        unsafe { System.dealloc(pointer, layout) }
    }
}

#[global_allocator]
static COUNTING: Counting = Counting;
