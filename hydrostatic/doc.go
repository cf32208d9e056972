// Package hydrostatic holds the weighing equations: from readings and the densities of the
// media to the density, volume or mass of a body. They are plain formulas; the densities of
// liquid and air are given to them and the uncertainty is propagated through them elsewhere.
//
// Terms. Hanging: the item hangs from the balance into a vessel that stands beside it.
// Standing: the vessel stands on the pan and the item hangs in it from a stand; the balance
// shows the gain. The lost weight is the reading in air less the reading in liquid, or the
// gain. A reading is net: the same hanger, immersed to the same depth, is in the tare.
//
// Balance. A balance is adjusted so that a weight of conventional mass m_c reads m_c. A net
// downward force F (in mass units) therefore reads F/W, with W = 1 - rho_adj/8000, where
// rho_adj is the density of the air in kg/m3 at the moment of adjustment (OIML D 28:2004). W
// cancels in every density of a solid that comes from one balance; it stays in volumes,
// masses and liquid densities.
//
// Sources. OIML D 28:2004 (conventional mass), OIML R 111-1:2004 Annex B.7 (density of
// weights), ISO 1183-1 method A (immersion), ISO 2738 (permeable sintered metal, oil
// impregnation); the forms with air buoyancy are derived from the balance of forces, and each
// function says how. Limits: the item is in equilibrium, wholly wetted, touches nothing, and
// the liquid is homogeneous.
//
// Errors. A reading that cannot come from a sound weighing gives a *WeighingError, a density or
// temperature outside its range a *quantity.RangeError. No function returns NaN or an infinity
// without an error, except Density, the bare equation for arguments already checked. Whether a finite result is believable is asked of CheckDensity.
package hydrostatic
