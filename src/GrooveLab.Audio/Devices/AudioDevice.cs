namespace GrooveLab.Audio.Devices;

/// <summary>A sound output of the system.</summary>
/// <param name="Name">The name for <see cref="AudioOutputs.Open"/>; as stable as the system's own names.</param>
/// <param name="Description">A description for the user, on one line.</param>
/// <param name="IsDefault">True for the output that is opened without a name.</param>
public sealed record AudioDevice(string Name, string Description, bool IsDefault);
