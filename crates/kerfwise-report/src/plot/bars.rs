use super::picture::{Anchor, Fill, Picture, SMALL, fitted};
use crate::budget::plain;
use crate::{BudgetOutcome, Style};

pub(super) const WIDTH: f64 = 520.0;
pub(super) const NAMES: f64 = 190.0;
const BARS: f64 = 170.0;
pub(super) const ROW: f64 = 24.0;
/// More rows than this are no picture but a list: the budget's table has them all.
pub(super) const MOST: usize = 30;

impl BudgetOutcome {
    /// The shares of the variance as bars, the largest first, as SVG; none without a budget.
    ///
    /// ```
    /// use kerfwise_report::{BudgetReport, Style, Subject};
    /// use kerfwise_source::{LengthUnits, Source};
    /// use kerfwise_stack::{Band, Expr, Stack};
    ///
    /// let kerf = Source::new("kerf", 0.125.inch()).normal(3.0.thou()).build()?;
    /// let travel = Source::new("travel", 0.125.inch()).normal(4.0.thou()).build()?;
    /// let fit = Expr::source(&travel) - Expr::source(&kerf);
    /// let stack = Stack::builder().outcome("fit", &fit, Band::within(10.0.thou())?).build()?;
    /// let report = BudgetReport::new(&Subject::titled("two sources"), &stack);
    /// // 3 and 4 make 5: the shares are 36 and 64 in a hundred.
    /// let svg = report.outcomes[0].to_svg(&Style::default()).unwrap();
    /// assert!(svg.contains("64.0 %") && svg.contains("36.0 %"));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn to_svg(&self, style: &Style) -> Option<String> {
        self.picture(style).map(|picture| picture.finish())
    }

    pub(super) fn picture(&self, style: &Style) -> Option<Picture> {
        let total = self.budget.answer()?;
        let rows: Vec<_> = total.uncertain().collect();
        let (shown, left) = rows.split_at(rows.len().min(MOST));
        let lines = shown.len() + usize::from(!left.is_empty());
        let height = 46.0 + ROW * lines.max(1) as f64;
        let title = format!("Error budget of the {}", plain(&self.name));
        let mut picture = Picture::new(WIDTH, height, &title, &self.sentence(total));
        let head = "share of the variance, and what each source adds";
        picture.text((12.0, 20.0), Anchor::Start, SMALL, head);
        let most = shown.iter().fold(0.0_f64, |m, r| m.max(r.share));
        let length = |share: f64| {
            if most > 0.0 {
                BARS * share.max(0.0) / most
            } else {
                0.0
            }
        };
        let mut y = 36.0;
        for (index, row) in shown.iter().enumerate() {
            let baseline = y + 16.0;
            let name = fitted(&row.name, SMALL, NAMES - 4.0);
            picture.text((NAMES, baseline), Anchor::End, SMALL, &name);
            let end = NAMES + 12.0 + length(row.share);
            let fill = if index == 0 { Fill::Dark } else { Fill::Light };
            picture.bar((NAMES + 12.0, y + 3.0), (end, y + 20.0), fill);
            let label = format!(
                "{:.1} %, {}",
                row.share * 100.0,
                self.show(row.contribution.abs(), style)
            );
            picture.text((end + 6.0, baseline), Anchor::Start, SMALL, &label);
            y += ROW;
        }
        if !left.is_empty() {
            let share: f64 = left.iter().map(|r| r.share).sum();
            let line = format!("{} more: {:.1} % together", left.len(), share * 100.0);
            picture.text((NAMES, y + 16.0), Anchor::End, SMALL, &line);
        }
        picture.line((NAMES + 12.0, 34.0), (NAMES + 12.0, y + 2.0), 1.0);
        Some(picture)
    }
}
