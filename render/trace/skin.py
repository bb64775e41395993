"""Skin as light meets it: a soft mirror of oil and horn over a body that scatters its colour."""

from __future__ import annotations

from typing import Any

import drjit as dr
import mitsuba as mi

from render.photometry.fresnel import diffuse_external
from render.trace.stage import LUMINANCE

PLUGIN = "skinsurface"
# Share of paths that follow the gloss; the bounds keep both parts sampled.
LEAST_GLOSS, MOST_GLOSS = 0.1, 0.9
LEAST_ALPHA = 0.02  # sharper gloss than any skin; keeps the numbers finite


class SkinSurface(mi.BSDF):
    """f = F D G / (4 cos cos) + A / pi · T(in) T(out) / (1 - Fe)².

    F, T = 1 - F: Fresnel's equations for the refractive index. D, G: GGX with alpha = roughness²
    (Walter et al. 2007). The body under the boundary is diffuse; its scale makes all that it gives
    back under light from all sides alike the albedo A of the map, as far as that is possible
    (A <= 1 - Fe, 0.92 for skin). The single-scattering gloss loses a little energy when rough.
    """

    def __init__(self, props: Any) -> None:
        super().__init__(props)
        self.albedo = props.get_texture("albedo")
        self.roughness = props.get_texture("roughness")
        self.index = float(props["index"])
        self.gloss_share = float(props.get("gloss", 1.0))
        self.body_scale = 1 / (dr.pi * (1 - diffuse_external(self.index)) ** 2)
        flags = mi.BSDFFlags
        gloss = flags.GlossyReflection | flags.FrontSide | flags.SpatiallyVarying
        body = flags.DiffuseReflection | flags.FrontSide | flags.SpatiallyVarying
        self.m_components = [gloss, body]
        self.m_flags = gloss | body

    def traverse(self, cb: Any) -> None:
        """Parameters that may be changed from outside."""
        cb.put("albedo", self.albedo, mi.ParamFlags.Differentiable)
        cb.put("roughness", self.roughness, mi.ParamFlags.Differentiable)

    def mirrored(self, cosine: Any) -> Any:
        """Fresnel reflection at the boundary."""
        return mi.fresnel(cosine, mi.Float(self.index))[0]  # type: ignore[arg-type]

    def facets(self, si: Any, active: Any) -> Any:
        """The tilts of the boundary's small mirrors at this place."""
        rough = self.roughness.eval_1(si, active)
        alpha = dr.maximum(dr.square(rough), LEAST_ALPHA)
        return mi.MicrofacetDistribution(mi.MicrofacetType.GGX, alpha, True)

    def parts(self, ctx: Any) -> tuple[bool, bool]:
        """Which of gloss and body are asked for."""
        return (
            ctx.is_enabled(mi.BSDFFlags.GlossyReflection, 0),
            ctx.is_enabled(mi.BSDFFlags.DiffuseReflection, 1),
        )

    def share_of_gloss(self, ctx: Any, si: Any, albedo: Any) -> Any:
        """Chance that a path follows the gloss."""
        gloss, body = self.parts(ctx)
        if not (gloss and body):
            return mi.Float(1.0 if gloss else 0.0)
        mirrored = self.mirrored(si.wi.z)
        grey = sum(share * albedo[c] for c, share in enumerate(LUMINANCE))
        share = mirrored / (mirrored + grey)
        return dr.clip(share, LEAST_GLOSS, MOST_GLOSS)

    def eval_pdf(self, ctx: Any, si: Any, wo: Any, active: Any = True) -> Any:
        cos_in, cos_out = si.wi.z, wo.z
        active = mi.Bool(active) & (cos_in > 0) & (cos_out > 0)
        albedo = self.albedo.eval(si, active)
        share = self.share_of_gloss(ctx, si, albedo)
        gloss, body = self.parts(ctx)
        value, pdf = mi.Spectrum(0), mi.Float(0)
        if gloss:
            facets = self.facets(si, active)
            half = dr.normalize(si.wi + wo)
            lean = dr.dot(si.wi, half)
            bright = self.mirrored(lean) * facets.eval(half) * facets.G(si.wi, wo, half)
            value += mi.Spectrum(self.gloss_share * bright / (4 * cos_in))
            pdf += share * facets.pdf(si.wi, half) / (4 * lean)
        if body:
            passed = (1 - self.mirrored(cos_in)) * (1 - self.mirrored(cos_out))
            value += albedo * (self.body_scale * passed * cos_out)
            pdf += (1 - share) * dr.inv_pi * cos_out
        return dr.select(active, value, 0), dr.select(active, pdf, 0)

    def eval(self, ctx: Any, si: Any, wo: Any, active: Any = True) -> Any:
        return self.eval_pdf(ctx, si, wo, active)[0]

    def pdf(self, ctx: Any, si: Any, wo: Any, active: Any = True) -> Any:
        return self.eval_pdf(ctx, si, wo, active)[1]

    def sample(self, ctx: Any, si: Any, sample1: Any, sample2: Any, active: Any = True) -> Any:
        active = mi.Bool(active) & (si.wi.z > 0)
        share = self.share_of_gloss(ctx, si, self.albedo.eval(si, active))
        facet, _ = self.facets(si, active).sample(si.wi, sample2)
        glossy = sample1 < share
        spread = mi.warp.square_to_cosine_hemisphere(sample2)
        bs: Any = dr.zeros(mi.BSDFSample3f)
        bs.eta = 1.0
        bs.wo = dr.select(glossy, mi.reflect(si.wi, facet), spread)
        flags = mi.BSDFFlags
        bs.sampled_component = dr.select(glossy, mi.UInt32(0), mi.UInt32(1))
        bs.sampled_type = dr.select(
            glossy, mi.UInt32(+flags.GlossyReflection), mi.UInt32(+flags.DiffuseReflection)
        )
        value, bs.pdf = self.eval_pdf(ctx, si, bs.wo, active)
        active &= bs.pdf > 0
        return bs, dr.select(active, value / bs.pdf, 0)

    def eval_pdf_sample(
        self, ctx: Any, si: Any, wo: Any, sample1: Any, sample2: Any, active: Any = True
    ) -> Any:
        bs, weight = self.sample(ctx, si, sample1, sample2, active)
        return *self.eval_pdf(ctx, si, wo, active), bs, weight

    def eval_diffuse_reflectance(self, si: Any, active: Any = True) -> Any:
        return self.albedo.eval(si, active)

    def to_string(self) -> str:
        return "SkinSurface[]"


mi.register_bsdf(PLUGIN, SkinSurface)
