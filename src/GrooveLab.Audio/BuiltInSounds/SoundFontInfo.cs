namespace GrooveLab.Audio.BuiltInSounds;

/// <summary>The texts of a SoundFont file's <c>INFO</c> list. ASCII only, at most 255 characters each.</summary>
/// <param name="Name">Name of the bank (<c>INAM</c>).</param>
/// <param name="Engineer">The author (<c>IENG</c>).</param>
/// <param name="Software">The program that wrote it (<c>ISFT</c>).</param>
public sealed record SoundFontInfo(string Name, string Engineer, string Software);
