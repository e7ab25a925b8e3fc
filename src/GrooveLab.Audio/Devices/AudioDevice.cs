namespace GrooveLab.Audio.Devices;

/// <summary>An output that the system offers.</summary>
/// <param name="Name">What to hand to <see cref="AudioOutputs.Open"/>; stable as far as the system keeps it so.</param>
/// <param name="Description">What to show to a person, on one line.</param>
/// <param name="IsDefault">Whether it is the one that no name at all would open.</param>
public sealed record AudioDevice(string Name, string Description, bool IsDefault);
