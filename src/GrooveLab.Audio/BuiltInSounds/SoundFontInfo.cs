namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>What the <c>INFO</c> list of a SoundFont file says. ASCII only, at most 255 characters each.</summary>
/// <param name="Name">Name of the bank (<c>INAM</c>).</param>
/// <param name="Engineer">Who made it (<c>IENG</c>).</param>
/// <param name="Software">What made it (<c>ISFT</c>).</param>
public sealed record SoundFontInfo(string Name, string Engineer, string Software);
