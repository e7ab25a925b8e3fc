namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>One modulator record of SoundFont 2.04, section 8.2; only written, not evaluated.</summary>
/// <param name="Source">Source enumeration: controller, direction, polarity and curve.</param>
/// <param name="Destination">The generator that it affects.</param>
/// <param name="Amount">The amount, in the destination's unit.</param>
/// <param name="AmountSource">Source that scales the amount; 0 for none.</param>
/// <param name="Transform">0 linear, 2 absolute value.</param>
public readonly record struct SoundFontModulator(
    ushort Source, SoundFontGenerator Destination, short Amount, ushort AmountSource = 0, ushort Transform = 0);
