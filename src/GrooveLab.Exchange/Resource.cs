namespace GrooveLab.Exchange;

/// <summary>Texts and tables embedded in the program.</summary>
internal static class Resource
{
    /// <summary>The text of a file embedded under its file name.</summary>
    public static string Text(string name)
    {
        using var reader = new StreamReader(Stream(name));
        return reader.ReadToEnd();
    }

    /// <summary>The bytes of a file embedded under its file name.</summary>
    public static Stream Stream(string name) =>
        typeof(Resource).Assembly.GetManifestResourceStream(name) ?? throw new InvalidOperationException($"{name} is not embedded.");
}
