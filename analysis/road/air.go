package road

import "math"

// The International Standard Atmosphere below 11 km, ISO 2533.
const (
	isaTemperature = 288.15    // K at sea level
	isaPressure    = 101325    // Pa at sea level
	isaLapse       = 0.0065    // K/m
	isaGravity     = 9.80665   // m/s²
	gasConstant    = 287.05287 // J/(kg K) of dry air
	kelvin         = 273.15
)

// isaExponent = g/(R lapse), 5.2559.
const isaExponent = isaGravity / (gasConstant * isaLapse)

// StandardAir is the standard atmosphere at a height in metres: temperature in
// °C, pressure in Pa, density in kg/m³ (ISO 2533).
func StandardAir(height float64) (temperatureC, pressure, density float64) {
	t := isaTemperature - isaLapse*height
	pressure = isaPressure * math.Pow(t/isaTemperature, isaExponent)
	return t - kelvin, pressure, pressure / (gasConstant * t)
}

// Density of dry air in kg/m³ at a pressure in Pa and a temperature in °C.
func Density(pressure, temperatureC float64) float64 {
	return pressure / (gasConstant * (temperatureC + kelvin))
}

// BarometricHeight in metres above the level where the pressure is reference,
// both in the same unit: 44330 (1 - (p/p0)^(1/5.255)), the form of altimeter
// chips.
func BarometricHeight(pressure, reference float64) float64 {
	return 44330 * (1 - math.Pow(pressure/reference, 1/5.255))
}

// Gravity in m/s² on the WGS 84 ellipsoid at a latitude in degrees, by
// Somigliana's closed form, less the free-air fall of 3.086e-6 per second
// squared with height in metres. A NaN latitude is read as 45°.
func Gravity(latitude, height float64) float64 {
	if math.IsNaN(latitude) {
		latitude = 45
	}
	sin := math.Sin(latitude * math.Pi / 180)
	sin2 := sin * sin
	return 9.7803253359*(1+0.00193185265241*sin2)/math.Sqrt(1-0.00669437999013*sin2) - 3.086e-6*height
}
