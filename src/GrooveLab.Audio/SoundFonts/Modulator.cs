using NAudio.SoundFont;

namespace GrooveLab.Audio.SoundFonts;

/// <summary>The effect of a controller on a generator: amount times source times amount source (SoundFont 2.04, section 8.2).</summary>
/// <param name="Source">The controller.</param>
/// <param name="AmountSource">A second controller that scales the amount, or "no controller".</param>
/// <param name="Destination">The generator that it adds to.</param>
/// <param name="Amount">The amount, in the generator's unit.</param>
/// <param name="IsAbsolute">Whether the sign of the product is dropped (transform 2).</param>
internal readonly record struct Modulator(
    ModulatorSource Source, ModulatorSource AmountSource, GeneratorEnum Destination, float Amount, bool IsAbsolute)
{
    /// <summary>Whether two modulators differ only in their amount (section 9.5.1).</summary>
    public bool IsSameRoute(in Modulator other) =>
        Source == other.Source && AmountSource == other.AmountSource && Destination == other.Destination && IsAbsolute == other.IsAbsolute;
}
