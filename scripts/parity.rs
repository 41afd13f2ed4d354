use ringtrue::strings::network::{Network, Note, Room};
fn main() {
    let a: Vec<String> = std::env::args().collect();
    let net = Network::read(&std::fs::read(&a[1]).unwrap()).unwrap();
    let bytes = std::fs::read(&a[2]).unwrap();
    let v: Vec<f32> = bytes.chunks_exact(4).map(|b| f32::from_le_bytes(b.try_into().unwrap())).collect();
    let width = 4 + 60 + 288 * 130;
    let mut room = Room::default();
    for r in v.chunks_exact(width).take(3) {
        let mut ex = Vec::new();
        let mut ot = Vec::new();
        let mut at = 64;
        for i in 0..30 {
            let count = if i % 5 == 0 { 16 } else { 8 };
            let (fret, label) = (r[4 + 2 * i] as u8, r[5 + 2 * i]);
            let mut n = Note { string: i / 5, fret, expected: i % 5 == 0, ..Default::default() };
            for _ in 0..count {
                if r[at] > 0.0 {
                    n.hz.push(r[at]);
                    n.rows.extend(&r[at + 1..at + 130]);
                }
                at += 130;
            }
            if label != -1.0 {
                if n.expected { ex.push(n) } else { ot.push(n) }
            }
        }
        ex.append(&mut ot);
        let t = std::time::Instant::now();
        let said = net.hear(&ex, (r[2], r[3]), &mut room);
        eprintln!("{:?}", t.elapsed());
        for (n, s) in ex.iter().zip(said) { println!("{} {} {:?}", n.string, n.fret, s); }
    }
}
