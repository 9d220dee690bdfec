//! Drawings of what is looked at and not recorded, for the screen.

use holdline::records::Entry;
use holdline_geom::fault::Faults;
use holdline_sheet::machine_view::Viewport;
use holdline_sheet::page::Page;
use holdline_sheet::sheets::{
    budget_plan_on_screen, budget_section_on_screen, correlations_on_screen, diagnosis_on_screen,
    growth_on_screen, poses_on_screen, ranking_on_screen, residuals_on_screen, shares_on_screen,
    tooth_sure_on_screen,
};
use holdline_sheet::svg::{Options, write_svg};
use holdline_store::read_json;

use super::block::Standing;
use super::{budget, calibration, diagnosis, words};
use crate::budget::{BudgetAsk, BudgetBody, BudgetDrawings};
use crate::calibrate::{CalibrateAsk, FitBody, FitDrawings};
use crate::drawings;
use crate::job::Job;
use crate::pose::{PageSize, Views};
use crate::units::Units;
use crate::verify::{CheckBody, DiagnosisDrawings, FullAsk, VERIFY_KIND};

fn svg(page: &Page, key: &'static str) -> String {
    write_svg(
        page,
        &Options {
            key,
            ..Options::INLINE
        },
    )
}

/// A part of a drawing's place: the share of its height that a small plot takes.
fn part_of(size: &PageSize, share: f64) -> Viewport {
    drawings::viewport(&PageSize {
        w_mm: size.w_mm,
        h_mm: size.h_mm * share,
    })
}

impl Job {
    /// The plots of a fit.
    ///
    /// # Errors
    ///
    /// Faults of the documents it rests on.
    pub fn fit_drawings(
        &mut self,
        entry: &Entry,
        size: &PageSize,
        units: Units,
    ) -> Result<FitDrawings, Faults> {
        let ask: CalibrateAsk = read_json("settings", &entry.settings)?;
        let body: FitBody = read_json("result", &entry.result)?;
        let machine = self.machine_of(&ask.tool)?;
        let standing = Standing::preview(self.name());
        let sheet = calibration::sheet(&standing, &machine, &ask, &body, units)?;
        let (whole, words) = (drawings::viewport(size), words());
        Ok(FitDrawings {
            residuals: svg(&residuals_on_screen(&sheet, whole, &words), "residuals"),
            correlations: svg(
                &correlations_on_screen(&sheet, whole, &words),
                "correlations",
            ),
            tooth: svg(
                &tooth_sure_on_screen(&sheet, part_of(size, 0.6), &words),
                "sure",
            ),
            poses: svg(&poses_on_screen(&sheet, whole, &words), "poses"),
        })
    }

    /// The plots of a budget.
    ///
    /// # Errors
    ///
    /// Faults of the documents it rests on.
    pub fn budget_drawings(
        &mut self,
        entry: &Entry,
        views: &Views,
        units: Units,
    ) -> Result<BudgetDrawings, Faults> {
        let ask: BudgetAsk = read_json("settings", &entry.settings)?;
        let body: BudgetBody = read_json("result", &entry.result)?;
        let machine = self.machine_of(&ask.tool)?;
        let standing = Standing::preview(self.name());
        let sheet = budget::sheet(&standing, &machine, &ask, &body, units)?;
        let section = drawings::viewport(&views.section);
        let plan = drawings::viewport(&views.plan);
        let words = words();
        let growth = match body.growth {
            Some(_) => svg(
                &growth_on_screen(&sheet, part_of(&views.section, 0.6), &words),
                "growth",
            ),
            None => String::new(),
        };
        Ok(BudgetDrawings {
            section: svg(
                &budget_section_on_screen(&sheet, section, &words),
                "section",
            ),
            plan: svg(&budget_plan_on_screen(&sheet, plan, &words), "plan"),
            shares: svg(
                &shares_on_screen(&sheet, part_of(&views.section, 0.6), &words),
                "shares",
            ),
            growth,
        })
    }

    /// The drawings of the diagnosis behind a check; none where there is none.
    ///
    /// # Errors
    ///
    /// Faults of the documents it rests on.
    pub fn diagnosis_drawings(
        &mut self,
        entry: &Entry,
        size: &PageSize,
        units: Units,
    ) -> Result<Option<DiagnosisDrawings>, Faults> {
        if entry.kind != VERIFY_KIND {
            return Ok(None);
        }
        let ask: FullAsk = read_json("settings", &entry.settings)?;
        let body: CheckBody = read_json("result", &entry.result)?;
        let machine = self.machine_of(&ask.tool)?;
        let standing = Standing::preview(self.name());
        let Some(sheet) = diagnosis::sheet(&standing, &machine, &ask, &body, units)? else {
            return Ok(None);
        };
        let (whole, words) = (drawings::viewport(size), words());
        Ok(Some(DiagnosisDrawings {
            arrows: svg(&diagnosis_on_screen(&sheet, whole, &words), "arrows"),
            ranking: svg(&ranking_on_screen(&sheet, whole, &words), "ranking"),
        }))
    }

    /// One page of the sheet of what was looked at and not recorded.
    ///
    /// # Errors
    ///
    /// As [`Job::preview_pages`]; `R043` for a page that there is not.
    pub fn preview_on_screen(
        &mut self,
        entry: &Entry,
        page: usize,
        units: Units,
    ) -> Result<String, Faults> {
        let pages = self.preview_pages(entry, units)?;
        Ok(svg(super::nth(&pages, page)?, "preview"))
    }
}
