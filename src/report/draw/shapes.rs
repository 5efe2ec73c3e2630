//! Shapes in a panel: lines, arrows, dots, signs.

use super::*;

/// An arc, with a head at its end if it has one.
fn draw_arc(c: &mut Canvas<'_>, shape: &Shape, m: &Map) -> Result<(), String> {
    let Shape::Arc {
        centre,
        radius_px,
        from,
        sweep,
        ink,
        stroke,
        head,
    } = shape
    else {
        return Ok(());
    };
    let centre = m.at(*centre);
    let point = |a: f64, r: f64| (centre.0 + r * a.cos(), centre.1 - r * a.sin());
    let size = 3.4 * stroke.width + 4.0;
    let turn = if *head {
        (size / radius_px).min(sweep.abs())
    } else {
        0.0
    };
    let end = from + sweep;
    let stop = end - turn * sweep.signum();
    let steps = (sweep.abs() * radius_px / 4.0).ceil().max(2.0) as usize;
    let path: Vec<(f64, f64)> = (0..=steps)
        .map(|k| point(from + (stop - from) * k as f64 / steps as f64, *radius_px))
        .collect();
    c.line(&path, *stroke, ink.rgb())?;
    if *head && turn > 0.0 {
        let half = 0.5 * turn * radius_px;
        c.surface.fill(
            &[
                point(end, *radius_px),
                point(stop, radius_px + half),
                point(stop, radius_px - half),
            ],
            ink.rgb(),
        )?;
    }
    Ok(())
}

pub(super) fn draw_shape(c: &mut Canvas<'_>, shape: &Shape, m: &Map) -> Result<(), String> {
    match shape {
        Shape::Line { points, ink, stroke } => {
            for path in visible(points.iter().map(|p| m.at(*p)), &m.rect) {
                c.line(&sparse(path), *stroke, ink.rgb())?;
            }
            Ok(())
        }
        Shape::Arrow {
            from,
            to,
            ink,
            stroke,
        } => c.arrow(m.at(*from), m.at(*to), *stroke, ink.rgb()),
        Shape::Arc { .. } => draw_arc(c, shape, m),
        Shape::Disc {
            centre,
            radius_px,
            ink,
            filled,
        } => {
            c.surface.disc(m.at(*centre), *radius_px, ink.rgb())?;
            if *filled {
                Ok(())
            } else {
                c.surface.disc(m.at(*centre), radius_px - 3.0, Ink::Paper.rgb())
            }
        }
        Shape::Sign { at, sign, .. } => draw_sign(c, *sign, m.at(*at)),
        Shape::Area { points, tone } => {
            let points: Vec<_> = points.iter().map(|p| m.at(*p)).collect();
            c.surface.fill(&points, tone.rgb())
        }
        Shape::Text {
            at,
            offset_px,
            text,
            size,
            bold,
            ink,
            anchor,
        } => {
            let (x, y) = m.at(*at);
            c.text(
                x + offset_px.0,
                y - offset_px.1,
                text,
                *size,
                *bold,
                *ink,
                *anchor,
            )
            .map(|_| ())
        }
    }
}

/// Radius of a sign, px.
pub(super) const SIGN_PX: f64 = 9.0;

pub(super) fn draw_sign(c: &mut Canvas<'_>, sign: Sign, at: (f64, f64)) -> Result<(), String> {
    let mut put = |radius: f64, colour: Rgb| match sign.form.corners() {
        [] => c.surface.disc(at, radius, colour),
        corners => c.surface.fill(
            &corners
                .iter()
                .map(|p| (at.0 + radius * p.0, at.1 + radius * p.1))
                .collect::<Vec<_>>(),
            colour,
        ),
    };
    put(SIGN_PX, sign.ink.rgb())?;
    if sign.filled {
        Ok(())
    } else {
        put(0.55 * SIGN_PX, Ink::Paper.rgb())
    }
}
