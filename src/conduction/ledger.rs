//! The energy ledger: every joule that enters or leaves has a name.

/// Named energies in J. Gains of the body are positive.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Ledger {
    names: Vec<String>,
    energy: Vec<f64>,
    stored: f64,
}

impl Ledger {
    /// The account of a name, opened when new.
    pub fn account(&mut self, name: &str) -> usize {
        match self.names.iter().position(|n| n == name) {
            Some(i) => i,
            None => {
                self.names.push(name.to_owned());
                self.energy.push(0.0);
                self.names.len() - 1
            }
        }
    }

    /// Number of accounts.
    pub fn accounts(&self) -> usize {
        self.names.len()
    }

    /// Adds to an account, J.
    pub fn add(&mut self, account: usize, energy: f64) {
        self.energy[account] += energy;
    }

    /// Adds to the stored energy, J.
    pub fn add_stored(&mut self, energy: f64) {
        self.stored += energy;
    }

    /// Names and energies (J).
    pub fn entries(&self) -> impl Iterator<Item = (&str, f64)> {
        self.names.iter().map(String::as_str).zip(self.energy.iter().copied())
    }

    /// Energy of a name in J, zero when it has no account.
    pub fn energy(&self, name: &str) -> f64 {
        self.entries().find(|(n, _)| *n == name).map_or(0.0, |(_, e)| e)
    }

    /// Change of the stored energy in J, summed from the cells.
    pub fn stored(&self) -> f64 {
        self.stored
    }

    /// Sum of all magnitudes in J.
    pub fn throughput(&self) -> f64 {
        self.energy.iter().map(|e| e.abs()).sum()
    }

    /// (stored − sum of the named energies) over the throughput; zero when nothing flowed.
    pub fn imbalance(&self) -> f64 {
        let through = self.throughput();
        if through == 0.0 {
            0.0
        } else {
            (self.stored - self.energy.iter().sum::<f64>()) / through
        }
    }

    /// Forgets the energies but keeps the accounts.
    pub fn clear(&mut self) {
        self.energy.fill(0.0);
        self.stored = 0.0;
    }
}
